"""Donors: what is still in them is stock, whole, nested or unseen, and nothing is had twice."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest

from conftest import NOW, Clock
from support.api import Api, Reply

SAC_BORE = {"outside_diameter": "5.9 mm", "inside_diameter": "5.05 mm", "length": "75 mm"}
CAP = {"kind": "cap", "state": "present", "measured": {"thread_diameter": "12.6 mm"}}
CLIP = {"kind": "clip", "state": "present", "part_of": 0}
BALL = {"kind": "jewel", "state": "present", "part_of": 1}


def donor(api: Api, *components: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Keep a donor with these components; return it."""
    body = {"called": "red celluloid wreck", "materials": ["celluloid"]} | more
    reply = api.post("/v1/donors", body | {"components": list(components)})
    assert reply.status == 201, reply.text
    return dict(reply.body)


def lots_of(kept: dict[str, Any]) -> list[int]:
    """Return the lots of a donor's components, in their order."""
    return [each["lot"] for each in kept["components"]]


def reserve(api: Api, job: str, lot: int) -> Reply:
    """Promise a piece to a job."""
    return api.post(f"/v1/jobs/{job}/reservations", {"lot": lot})


def lot(api: Api, lot_id: int) -> dict[str, Any]:
    """Return a lot as it is now."""
    return dict(api.get(f"/v1/lots/{lot_id}").body)


def test_components_are_pieces_or_lines_without_any(api: Api) -> None:
    """Present and unchecked components are lots of one without a part; the others are no pieces."""
    kept = donor(
        api,
        CAP | {"colour_note": "faded olive"},
        {"kind": "nib", "state": "damaged", "note": "one tine gone"},
        {"kind": "feed"},
        {"kind": "clip", "state": "missing"},
        note="aired, away from metal",
    )
    assert kept["number"] == "DON-0001"
    assert [each["state"] for each in kept["components"]] == [
        "present",
        "damaged",
        "unchecked",
        "missing",
    ]
    cap, nib, feed, clip = kept["components"]
    assert (nib["lot"], clip["lot"], cap["place"]) == (None, None, "DON-0001")
    assert cap["attributes"] == {"colour_note": "faded olive"}
    piece = lot(api, cap["lot"])
    assert (piece["part"], piece["donor"], piece["place"]) == (None, "DON-0001", "DON-0001")
    assert (piece["in_hand"], piece["condition"]) == (1, None)
    assert piece["basis"] == {"thread_diameter": "measured"}
    assert lot(api, feed["lot"])["condition"] == "unchecked"
    assert any("aired" in each["caution"] for each in kept["cautions"])
    found = api.get("/v1/lots?kind=cap&thread_diameter_min=12.5&donor=DON-0001").body["lots"]
    assert [each["id"] for each in found] == [cap["lot"]]
    assert api.get("/v1/lots?donor=DON-0002").body["lots"] == []
    assert api.get("/v1/donors").body["donors"] == [kept]
    assert api.get("/v1/donors/DON-0002").status == 404


@pytest.mark.parametrize(
    ("components", "pointer"),
    [
        ([{"kind": "girdle"}], "/components/0/kind"),
        ([{"kind": "cap", "part_of": 0}], "/components/0/part_of"),
        ([{"kind": "cap", "state": "gone"}], "/components/0/state"),
        ([CAP, {"kind": "clip", "part_of_component": 99}], "/components/1/part_of_component"),
        ([{"kind": "cap", "attributes": {"girth": 1}}], "/components/0/attributes/girth"),
        (
            [{"kind": "cap", "measured": {"wire_diameter": 1}}],
            "/components/0/measured/wire_diameter",
        ),
    ],
)
def test_checklists_that_cannot_be_are_refused_by_place(
    api: Api, components: list[Any], pointer: str
) -> None:
    """An unknown kind, a piece in itself or a dimension it has not is 422 and makes no donor."""
    refused = api.post("/v1/donors", {"called": "wreck", "components": components})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer), refused.text
    assert api.get("/v1/donors").body["donors"] == []


def test_cap_takes_its_clip_along_whatever_is_done(api: Api) -> None:
    """The clip, and what is in the clip, are promised, fetched and used with the cap."""
    cap, clip, jewel = lots_of(donor(api, CAP, CLIP, BALL))
    job = api.job()
    (made,) = reserve(api, job, cap).body["reservations"]
    assert [lot(api, each)["available"] for each in (cap, clip, jewel)] == [0, 0, 0]
    rows = api.get(f"/v1/reservations?job={job}").body["reservations"]
    assert [(row["lot"], row["goes_with"]) for row in rows] == [
        (cap, None),
        (clip, made["id"]),
        (jewel, made["id"]),
    ]
    for verb in ("fetch", "use", "release", "spoil"):
        refused = api.post(f"/v1/reservations/{rows[1]['id']}/{verb}")
        assert refused.status == 409
        assert f"goes with reservation {made['id']}" in refused.body["detail"]
    api.post(f"/v1/reservations/{made['id']}/fetch")
    states = [row["state"] for row in api.get(f"/v1/reservations?job={job}").body["reservations"]]
    assert states == ["in_tray"] * 3
    api.post(f"/v1/reservations/{made['id']}/use", {"note": "on the green one"})
    assert [lot(api, each)["in_hand"] for each in (cap, clip, jewel)] == [0, 0, 0]
    (shown,) = api.get("/v1/donors").body["donors"]
    assert [each["taken"]["job"] for each in shown["components"]] == [job] * 3
    assert shown["components"][1]["taken"]["verb"] == "fitted"
    assert shown["components"][0]["state"] == "present"


@pytest.mark.parametrize("verb", ["release", "spoil"])
def test_released_and_spoiled_go_together_too(api: Api, verb: str) -> None:
    """What ends for the cap ends for its clip, and an ended one ends no more."""
    cap, clip = lots_of(donor(api, CAP, CLIP))
    job = api.job()
    made = reserve(api, job, cap).body["reservations"][0]["id"]
    assert api.post(f"/v1/reservations/{made}/{verb}").status == 200
    left = 1 if verb == "release" else 0
    assert [lot(api, each)["available"] for each in (cap, clip)] == [left, left]
    assert api.post(f"/v1/reservations/{made}/{verb}").status == 409


def test_cancelled_job_gives_back_cap_and_clip(api: Api) -> None:
    """Cancelling releases the whole of it."""
    cap, clip = lots_of(donor(api, CAP, CLIP))
    job = api.job()
    reserve(api, job, cap)
    assert api.post(f"/v1/jobs/{job}/cancel").status == 200
    assert [lot(api, each)["available"] for each in (cap, clip)] == [1, 1]


def test_hold_of_a_cap_lapses_with_its_clip(api: Api, clock: Clock) -> None:
    """A lapsed hold frees all that it held, asked for from either end."""
    setting = {"value": 24, "why": "two benches share the donors"}
    api.patch("/v1/settings/stock.hold_lapses_after_hours", setting)
    cap, clip = lots_of(donor(api, CAP, CLIP))
    first, second = api.job(), api.job()
    reserve(api, first, cap)
    clock.now = NOW + timedelta(hours=25)
    assert reserve(api, second, clip).status == 201
    rows = api.get(f"/v1/reservations?job={first}").body["reservations"]
    assert [row["state"] for row in rows] == ["lapsed", "lapsed"]


def test_clip_that_another_job_has_keeps_the_cap(api: Api) -> None:
    """A promised clip refuses its cap with that job's name; for its own job the cap is free."""
    cap, clip = lots_of(donor(api, CAP, CLIP))
    first, second = api.job(), api.job()
    held = reserve(api, first, clip).body["reservations"][0]["id"]
    refused = reserve(api, second, cap)
    assert refused.status == 409
    assert first in refused.body["detail"]
    assert lot(api, cap)["promised"] == 0
    assert reserve(api, first, cap).status == 201
    rows = api.get(f"/v1/reservations?job={first}").body["reservations"]
    assert [(row["lot"], row["goes_with"]) for row in rows] == [(clip, None), (cap, None)]
    assert api.post(f"/v1/reservations/{held}/use").status == 200


def test_promised_cap_keeps_its_clip(api: Api) -> None:
    """The other way round: who has the cap has the clip, and the refusal names that job."""
    cap, clip = lots_of(donor(api, CAP, CLIP))
    first, second = api.job(), api.job()
    reserve(api, first, cap)
    refused = reserve(api, second, clip)
    assert refused.status == 409
    assert first in refused.body["detail"]


def test_stripped_pieces_keep_their_donor_for_ever(api: Api) -> None:
    """A cap is stripped with its clip, promised or not; moved and apart they keep the donor."""
    kept = donor(api, CAP, CLIP, {"kind": "nib", "state": "present"})
    cap, clip, nib = lots_of(kept)
    job = api.job()
    reserve(api, job, cap)
    for code in ("A3", "B1"):
        api.post("/v1/drawers", {"code": code})
    path = f"/v1/donors/{kept['number']}/strip"
    reply = api.post(path, {"lots": [cap], "drawer": "A3", "note": "for the green one"})
    assert reply.status == 200, reply.text
    assert [(each["id"], each["place"]) for each in reply.body["lots"]] == [
        (cap, "A3"),
        (clip, "A3"),
    ]
    assert reply.body["lots"][1]["part_of_lot"] == cap
    assert lot(api, nib)["place"] == "DON-0001"
    lines = api.get("/v1/movements?verb=stripped").body["movements"]
    assert [(line["lot"], line["from_place"], line["place"]) for line in lines] == [
        (cap, "DON-0001", "A3"),
        (clip, "DON-0001", "A3"),
    ]
    assert api.post(f"/v1/movements/{lines[0]['group']}/undo").status == 409
    assert api.post(path, {"lots": [cap], "drawer": "B1"}).status == 409
    refused = api.post(f"/v1/lots/{clip}/move", {"drawer": "B1"})
    assert refused.status == 409
    assert "together" in refused.body["detail"]
    assert api.post(f"/v1/lots/{cap}/move", {"drawer": "B1"}).status == 200
    assert (lot(api, clip)["place"], lot(api, clip)["donor"]) == ("B1", "DON-0001")
    api.post(f"/v1/jobs/{job}/cancel")
    apart = api.post(f"/v1/lots/{clip}/move", {"drawer": "B1"}).body
    assert (apart["part_of_lot"], apart["donor"], apart["place"]) == (None, "DON-0001", "B1")
    shown = api.get("/v1/donors/DON-0001").body["components"]
    assert [each["place"] for each in shown] == ["B1", "B1", "DON-0001"]


def test_piece_cut_from_a_donor_keeps_the_donor(api: Api) -> None:
    """A part of a part is still of that donor."""
    bar = {"kind": "pressure_bar", "state": "present", "measured": {"length": "60 mm"}}
    (piece,) = lots_of(donor(api, bar))
    made = api.post(f"/v1/lots/{piece}/cut", {"length": "40 mm"}).body["made"]
    assert [each["donor"] for each in made] == ["DON-0001", "DON-0001"]


def test_what_other_pieces_are_fixed_in_is_not_thrown_away(api: Api) -> None:
    """A cap with its clip on is not discarded, until the clip is off."""
    kept = donor(api, CAP, CLIP)
    cap, clip = lots_of(kept)
    refused = api.post(f"/v1/lots/{cap}/discard", {"quantity": 1})
    assert refused.status == 409
    assert refused.body["errors"][0]["lot"] == clip
    api.post("/v1/drawers", {"code": "A3"})
    api.post(f"/v1/donors/{kept['number']}/strip", {"lots": [clip], "drawer": "A3"})
    assert api.post(f"/v1/lots/{cap}/discard", {"quantity": 1}).status == 200


def test_looking_at_a_component_changes_its_state(api: Api) -> None:
    """Unchecked becomes present and is measured; damaged is written off; found comes back."""
    kept = donor(api, {"kind": "cap"}, CLIP | {"state": "unchecked"})
    cap, clip = (each["id"] for each in kept["components"])
    path = f"/v1/donors/DON-0001/components/{cap}"
    seen = api.patch(
        path,
        {
            "state": "present",
            "measured": {"thread_diameter": "12.6 mm"},
            "attributes": {"thread_starts": 3},
        },
    )
    assert seen.status == 200, seen.text
    assert (seen.body["state"], seen.body["measured"]) == ("present", {"thread_diameter": 12.6})
    assert lot(api, seen.body["lot"])["condition"] is None
    broken = api.patch(path, {"state": "damaged", "note": "split lip"}).body
    assert (broken["state"], broken["place"], broken["note"]) == ("damaged", None, "split lip")
    assert lot(api, seen.body["lot"])["in_hand"] == 0
    inside = api.get(f"/v1/donors/DON-0001/components/{clip}").body
    assert lot(api, inside["lot"])["part_of_lot"] is None
    lines = api.get(f"/v1/movements?lot={seen.body['lot']}").body["movements"]
    assert [(line["verb"], line["change"]) for line in lines] == [("arrived", 1), ("checked", -1)]
    for line in lines:
        assert api.post(f"/v1/movements/{line['group']}/undo").status == 409
    back = api.patch(path, {"state": "present"}).body
    assert (back["lot"], back["place"]) == (seen.body["lot"], "DON-0001")
    assert back["taken"] is None


def test_missing_component_can_turn_up(api: Api) -> None:
    """A piece that was missing from the start becomes one when it is found, fixed where it was."""
    kept = donor(api, CAP, CLIP | {"state": "missing"})
    component = kept["components"][1]["id"]
    path = f"/v1/donors/DON-0001/components/{component}"
    assert api.patch(path, {"measured": {"length": "40 mm"}}).status == 422
    found = api.patch(path, {"state": "unchecked"}).body
    piece = lot(api, found["lot"])
    assert (piece["in_hand"], piece["condition"]) == (1, "unchecked")
    assert piece["part_of_lot"] == kept["components"][0]["lot"]


def test_promised_or_taken_components_do_not_change_state(api: Api) -> None:
    """A promised piece is not declared missing, and one that was taken out is not either."""
    kept = donor(api, CAP, {"kind": "nib", "state": "present"})
    job = api.job()
    (cap, nib), ids = lots_of(kept), [each["id"] for each in kept["components"]]
    held = reserve(api, job, cap).body["reservations"][0]["id"]
    path = "/v1/donors/DON-0001/components/{}".format
    refused = api.patch(path(ids[0]), {"state": "missing"})
    assert refused.status == 409
    assert job in refused.body["detail"]
    shown = api.get(path(ids[0])).body
    assert (shown["promised_to"], shown["reservation"]) == (job, held)
    api.post(f"/v1/reservations/{held}/use")
    assert api.patch(path(ids[0]), {"state": "missing"}).status == 409
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/donors/DON-0001/strip", {"lots": [nib], "drawer": "A3"})
    refused = api.patch(path(ids[1]), {"state": "damaged"})
    assert refused.status == 409
    assert "A3" in refused.body["detail"]


def test_nothing_is_added_inside_a_promised_piece(api: Api) -> None:
    """A clip noted later than the promise of its cap would not be promised with it, so it waits."""
    kept = donor(api, CAP)
    job = api.job()
    held = reserve(api, job, lots_of(kept)[0]).body["reservations"][0]["id"]
    more = {"components": [{"kind": "clip", "part_of_component": kept["components"][0]["id"]}]}
    refused = api.post("/v1/donors/DON-0001/components", more)
    assert refused.status == 409
    assert refused.body["errors"][0]["job"] == job
    api.post(f"/v1/reservations/{held}/release")
    added = api.post("/v1/donors/DON-0001/components", more)
    assert added.status == 201, added.text
    assert added.body["components"][1]["part_of"] == kept["components"][0]["id"]


def test_unchecked_piece_never_makes_a_plan_complete(api: Api) -> None:
    """A fitting sac that nobody has looked at is shown as to be tried in, and never taken by {}."""
    kept = donor(api, {"kind": "sac", "measured": SAC_BORE, "material": "latex"})
    job = api.job()
    plan = api.get(f"/v1/jobs/{job}/plan").body
    need = plan["needs"][0]
    (candidate,) = need["candidates"]
    assert (candidate["lot"], candidate["part"], candidate["verdict"]) == (
        lots_of(kept)[0],
        None,
        "try_in",
    )
    assert "go and look" in candidate["why"]
    assert (plan["complete"], need["best"], need["short"]) == (False, [], 1)
    refused = api.post(f"/v1/jobs/{job}/reservations")
    assert refused.status == 409
    assert reserve(api, job, candidate["lot"]).status == 201
    component = f"/v1/donors/DON-0001/components/{kept['components'][0]['id']}"
    assert api.get(component).body["promised_to"] == job


def test_ranking_leaves_whole_donors_whole(api: Api) -> None:
    """Among equals the drawer comes first, then a donor already broken into, then a whole one."""
    sac = {"kind": "sac", "state": "present", "measured": SAC_BORE, "material": "latex"}
    (whole,) = lots_of(donor(api, sac))
    broken, nib = lots_of(donor(api, sac, {"kind": "nib", "state": "present"}))
    drawer = api.stock(1, measured=SAC_BORE)["id"]
    api.post("/v1/donors/DON-0002/strip", {"lots": [nib], "drawer": "A3"})
    need = api.get(f"/v1/jobs/{api.job()}/plan").body["needs"][0]
    assert len({each["verdict"] for each in need["candidates"]}) == 1
    assert [each["lot"] for each in need["candidates"]] == [drawer, broken, whole]


def test_a_fit_refuses_a_piece_whose_inside_is_promised(api: Api) -> None:
    """What holds a piece promised to another job is listed as refused, with the job's name."""
    sac = {"kind": "sac", "state": "present", "measured": SAC_BORE, "material": "latex"}
    outer, inner = lots_of(donor(api, sac, CLIP))
    first, second = api.job(), api.job()
    reserve(api, first, inner)
    need = api.get(f"/v1/jobs/{second}/plan").body["needs"][0]
    assert need["candidates"] == []
    refused = [each for each in need["refused"] if each["lot"] == outer]
    assert refused[0]["job"] == first
    own = api.get(f"/v1/jobs/{first}/plan").body["needs"][0]
    assert [each["lot"] for each in own["candidates"]] == [outer]


def test_release_by_name_frees_the_whole_of_it(api: Api) -> None:
    """Naming the clip's reservation to discard the clip gives up the cap's too."""
    cap, clip = lots_of(donor(api, CAP, CLIP))
    job = api.job()
    reserve(api, job, cap)
    rows = api.get(f"/v1/reservations?lot={clip}").body["reservations"]
    body = {"quantity": 1, "release": [rows[0]["id"]]}
    assert api.post(f"/v1/lots/{clip}/discard", body).status == 200
    assert (lot(api, cap)["available"], lot(api, clip)["in_hand"]) == (1, 0)


def test_strip_refuses_what_is_not_in_the_donor(api: Api) -> None:
    """Another donor's piece, or one that is used up, is refused by name, and nothing moves."""
    first, second = donor(api, CAP), donor(api, CAP)
    api.post("/v1/drawers", {"code": "A3"})
    path = "/v1/donors/DON-0001/strip"
    refused = api.post(path, {"lots": [*lots_of(first), *lots_of(second)], "drawer": "A3"})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/lots/1")
    assert api.post(path, {"lots": lots_of(first), "drawer": "Z9"}).status == 422
    assert lot(api, lots_of(first)[0])["place"] == "DON-0001"
    api.post(f"/v1/lots/{lots_of(first)[0]}/discard", {"quantity": 1})
    gone = api.post(path, {"lots": lots_of(first), "drawer": "A3"})
    assert (gone.status, gone.body["errors"][0]["lot"]) == (409, lots_of(first)[0])


def test_pen_becomes_a_donor_once_its_jobs_are_over(api: Api) -> None:
    """An open job keeps a pen a pen; after it the pen is a donor, and only one."""
    job = api.job()
    pen = api.get(f"/v1/jobs/{job}").body["pen"]
    path = f"/v1/pens/{pen}/to-donor"
    refused = api.post(path)
    assert (refused.status, refused.body["errors"][0]["job"]) == (409, job)
    api.post(f"/v1/jobs/{job}/cancel")
    made = api.post(path, {"components": [CAP, CLIP], "note": "barrel cracked"})
    assert made.status == 201, made.text
    assert made.headers["Location"] == "/v1/donors/DON-0001"
    assert (made.body["pen"], made.body["called"], made.body["materials"]) == (
        pen,
        "olive lever pen",
        ["celluloid"],
    )
    assert api.post(path).status == 409
    assert api.get(f"/v1/pens/{pen}").body["retired_at"] is not None


def test_donor_itself_can_be_changed(api: Api) -> None:
    """Its name and the note on how it is kept change with the tag that was seen."""
    donor(api)
    changed = api.patch("/v1/donors/DON-0001", {"note": "open box on the top shelf"})
    assert (changed.status, changed.body["note"]) == (200, "open box on the top shelf")
    stale = api.patch("/v1/donors/DON-0001", {"called": "x"}, If_Match='"old"')
    assert stale.status == 412


def test_donor_repeated_with_its_key_is_kept_once(api: Api) -> None:
    """A repeat of the same request makes no second donor."""
    body = {"called": "wreck", "components": [CAP, CLIP]}
    one, two = (api.post("/v1/donors", body, Idempotency_Key="wreck") for _ in range(2))
    assert (one.status, one.text) == (two.status, two.text)
    assert len(api.get("/v1/donors").body["donors"]) == 1
    assert len(api.get("/v1/lots?donor=DON-0001").body["lots"]) == 2


def test_cap_and_clip_go_to_one_job_however_they_race(api: Api) -> None:
    """One job asks for the cap and another for its clip at one moment: one of them has it."""
    first, second = api.job(), api.job()
    for _ in range(5):
        cap, clip = lots_of(donor(api, CAP, CLIP))
        start = threading.Barrier(2)

        def ask(job: str, wanted: int, start: threading.Barrier = start) -> int:
            each = Api(api.app, api.token)
            start.wait()
            return reserve(each, job, wanted).status

        with ThreadPoolExecutor(2) as pool:
            answers = list(pool.map(ask, (first, second), (cap, clip)))
        assert sorted(answers) == [201, 409]
        has_cap = answers[0] == 201
        holder = first if has_cap else second
        rows = api.get(f"/v1/reservations?lot={clip}").body["reservations"]
        assert [row["job"] for row in rows] == [holder]
        assert lot(api, cap)["promised"] == int(has_cap)


def test_a_piece_nobody_looked_at_is_promised_with_a_warning(api: Api) -> None:
    """The answer to the promise says that it has to be looked at; a piece looked at has none."""
    feed, cap = lots_of(donor(api, {"kind": "feed"}, CAP))
    job = api.job()
    promised = reserve(api, job, feed)
    assert promised.status == 201, promised.text
    words = "nobody has looked at it yet: look before the pen is opened"
    assert any(words in each for each in promised.body["warnings"]), promised.body["warnings"]
    assert not any(words in each for each in reserve(api, job, cap).body["warnings"])
