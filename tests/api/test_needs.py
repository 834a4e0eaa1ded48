"""What a job needs, changed as the pen turns out to be."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import text

from sparewell.database.engine import Database
from sparewell.database.transaction import write
from support.api import Api
from support.plunger import HEAD, PACKING, gaskets, open_job


@pytest.fixture
def job(api: Api) -> str:
    """A plunger filler's job: head washer, packings to be decided, an optional rod."""
    return open_job(api)


def states(api: Api, job: str) -> list[str]:
    """Return how each need stands."""
    return [need["state"] for need in api.get(f"/v1/jobs/{job}").body["needs"]]


def test_a_job_copies_everything_a_need_says(api: Api, job: str) -> None:
    """Range, place, note and undecidedness come from the template into the job's own needs."""
    head, packing, rod = api.get(f"/v1/jobs/{job}").body["needs"]
    assert (head["state"], head["quantity"], head["at_most"]) == ("open", 1, None)
    assert (packing["state"], packing["quantity"], packing["at_most"]) == ("undecided", 2, 16)
    assert packing["calculator"] == "packing"
    assert (rod["optional"], rod["reads"]) == (
        True,
        {"outside_diameter": "rod", "length": "rod_length"},
    )
    ring = api.post("/v1/pens", {"called": "x", "filling_system": "pneumatic"}).body["number"]
    needs = api.post("/v1/jobs", {"pen": ring}).body["needs"]
    assert needs[1]["given"] == {"gland": "rod", "duty": "moving", "grease": "silicone"}
    assert [need["paired_with"] for need in needs] == [[needs[1]["id"]], [needs[0]["id"]]]


def test_undecided_needs_are_skipped_and_keep_the_plan_incomplete(api: Api, job: str) -> None:
    """The best set takes the head washer alone; the plan is complete only once all is decided."""
    head = gaskets(api, "HEAD", HEAD, 2, "A1")
    packing = gaskets(api, "PACK", PACKING, 5, "A2")
    plan = api.get(f"/v1/jobs/{job}/plan").body
    assert plan["complete"] is False
    assert [need["best"] for need in plan["needs"]] == [[{"lot": head, "quantity": 1}], [], []]
    assert (plan["needs"][1]["short"], plan["needs"][1]["candidates"]) == (0, [])
    assert "when the pen is open: 2 to 16" in plan["needs"][1]["problem"]
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    assert [each["lot"] for each in made] == [head]
    assert api.post(f"/v1/jobs/{job}/reservations").status == 409
    decided = api.patch(f"/v1/jobs/{job}/needs/2", {"decided": True, "quantity": 3})
    assert (decided.status, decided.body["state"], decided.body["quantity"]) == (200, "open", 3)
    plan = api.get(f"/v1/jobs/{job}/plan").body
    assert plan["complete"] is True
    assert plan["needs"][1]["best"] == [{"lot": packing, "quantity": 3}]
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    assert [(each["lot"], each["quantity"]) for each in made] == [(packing, 3)]


def test_two_rods_in_one_pen_are_two_readings(api: Api) -> None:
    """The tail ring is sized by the tube at the tail and the point seal by the fill tube."""
    readings = {"rod": 6.2, "bore": 9.4, "fill_tube": 2.4, "point_seat": 5.0}
    pen = {"called": "x", "filling_system": "pneumatic_extending_tube", "readings": readings}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    _, ring, seal, _ = api.get(f"/v1/jobs/{job}/plan").body["needs"]
    assert ring["result"]["rings"][0]["size"] == "-010"
    assert seal["result"]["outside_diameter"] == 5.1
    assert seal["result"]["inside_diameter"] == round(2.4 * 0.97, 3)


def test_the_plan_says_which_readings_would_decide(api: Api) -> None:
    """A need without its readings names them by the pen's own names, and how each is taken."""
    pen = {"called": "x", "filling_system": "pneumatic_extending_tube"}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    sac, ring, seal, _ = api.get(f"/v1/jobs/{job}/plan").body["needs"]
    assert sac["missing"] == ["nipple_diameter"]
    assert ring["missing"] == ["rod", "bore"]
    assert seal["missing"] == ["point_seat", "fill_tube"]
    assert [reading["name"] for reading in seal["readings"]] == seal["missing"]
    assert seal["readings"][1]["instrument"] == "micrometer"
    assert "that one is the rod" in seal["readings"][1]["traps"][0]
    assert "point_seat" in seal["problem"]


def test_a_need_that_no_calculator_sizes_says_what_to_look_for(api: Api) -> None:
    """Readings that are there stand in the sentence, those that are not are named as missing."""
    readings = {"filler_collar": "7.4 mm"}
    pen = {"called": "x", "filling_system": "diaphragm_pump", "readings": readings}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    diaphragm = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    assert diaphragm["problem"] == (
        "no calculator sizes it (inside diameter for filler collar 7.4 mm): "
        "name the bag when you reserve"
    )
    assert diaphragm["missing"] == ["pellet_hole"]


def test_a_need_is_added_and_reserved_like_any_other(api: Api, job: str) -> None:
    """An O-ring stack in place of packings: added, sized by the same readings, reserved."""
    new = {
        "kind": "o_ring",
        "quantity": 2,
        "calculator": "o_ring",
        "seals_where": "packing unit",
        "given": {"gland": "rod", "duty": "moving"},
        "note": "rings were in there",
    }
    made = api.post(f"/v1/jobs/{job}/needs", new)
    assert made.status == 201
    assert made.headers["Location"] == f"/v1/jobs/{job}/needs/{made.body['id']}"
    assert made.body | new == made.body
    assert (made.body["state"], made.body["optional"]) == ("open", False)
    assert api.get(made.headers["Location"]).body == made.body
    assert api.get(f"/v1/jobs/{job}").body["needs"][-1] == made.body
    planned = api.get(f"/v1/jobs/{job}/plan").body["needs"][-1]
    assert planned["result"]["rings"][0]["inside_diameter"] < 1.6
    inner = api.post(f"/v1/jobs/{job}/needs", {"kind": "inner_cap", "seals_where": "cap"})
    assert (inner.status, inner.body["quantity"], inner.body["calculator"]) == (201, 1, None)


BAD_NEEDS = [
    ({"kind": "gromet"}, "/kind"),
    ({"quantity": 0}, "/quantity"),
    ({"quantity": 1.5}, "/quantity"),
    ({"calculator": "rings"}, "/calculator"),
    ({"calculator": "sac"}, "/calculator"),
    ({"given": {}}, "/given"),
    ({"given": {"gland": "rod", "colour": "red"}}, "/given/colour"),
    ({"reads": {"rod": "steam"}}, "/reads/rod"),
    ({"reads": {"gland": "rod"}}, "/reads/gland"),
    ({"optional": 1.5}, "/optional"),
    ({"size": 7}, "/size"),
    ({"seals_where": ""}, "/seals_where"),
]


@pytest.mark.parametrize(("members", "pointer"), BAD_NEEDS, ids=[each for _, each in BAD_NEEDS])
def test_a_need_that_could_not_work_is_refused_where_the_fault_is(
    api: Api, job: str, members: dict[str, Any], pointer: str
) -> None:
    """Unknown kinds, calculators, inputs and readings are located, and nothing is added."""
    need = {
        "kind": "o_ring",
        "seals_where": "tail",
        "calculator": "o_ring",
        "given": {"gland": "rod"},
    }
    reply = api.post(f"/v1/jobs/{job}/needs", need | members)
    assert reply.status == 422, reply.text
    assert pointer in [error["pointer"] for error in reply.body["errors"]]
    assert len(api.get(f"/v1/jobs/{job}").body["needs"]) == 3


def test_quantity_goes_down_to_what_is_promised_and_used(api: Api, job: str) -> None:
    """Four are promised and one of them used: three is refused, four and five are not."""
    packing = gaskets(api, "PACK", PACKING, 9, "A2")
    path = f"/v1/jobs/{job}/needs/2"
    api.patch(path, {"decided": True, "quantity": 4})
    named = {"lot": packing, "quantity": 4}
    made = api.post(f"/v1/jobs/{job}/reservations", named).body["reservations"][0]
    assert made["need"] == 2
    api.post(f"/v1/reservations/{made['id']}/use", {"quantity": 1})
    refused = api.patch(path, {"quantity": 3})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (409, "/quantity")
    assert "3 promised and 1 used" in refused.body["detail"]
    assert api.patch(path, {"quantity": 5}).body["state"] == "open"
    assert api.patch(path, {"quantity": 4}).body["state"] == "promised"


def test_a_named_lot_goes_to_the_need_that_it_suits(api: Api, job: str) -> None:
    """Of two needs of one kind the packing covers the packing, unless a person says otherwise."""
    packing = gaskets(api, "PACK", PACKING, 9, "A2")
    api.patch(f"/v1/jobs/{job}/needs/2", {"decided": True})
    path = f"/v1/jobs/{job}/reservations"
    (made,) = api.post(path, {"lot": packing}).body["reservations"]
    assert (made["need"], made["quantity"]) == (2, 2)
    (said,) = api.post(path, {"lot": packing, "need": 1, "override": "I know"}).body["reservations"]
    assert (said["need"], said["quantity"], said["verdict"]) == (1, 1, "refused")
    assert api.post(path, {"lot": packing, "need": 1}).status == 409
    (extra,) = api.post(path, {"lot": packing}).body["reservations"]
    assert extra["need"] is None


@pytest.mark.parametrize("need", [3, 99])
def test_a_lot_is_not_reserved_for_a_need_of_another_kind(api: Api, job: str, need: int) -> None:
    """A rod's need takes no gasket, a need that is not the job's takes nothing."""
    packing = gaskets(api, "PACK", PACKING, 9, "A2")
    reply = api.post(f"/v1/jobs/{job}/reservations", {"lot": packing, "need": need})
    assert (reply.status, reply.body["errors"][0]["pointer"]) == (422, "/need")
    without = api.post(f"/v1/jobs/{job}/reservations", {"need": 1})
    assert (without.status, without.body["errors"][0]["pointer"]) == (422, "/lot")


def test_an_undecided_need_takes_no_lot_and_is_named(api: Api, job: str) -> None:
    """Reserving for it is refused, and so is the best set once it is all that is left."""
    packing = gaskets(api, "PACK", PACKING, 9, "A2")
    reply = api.post(f"/v1/jobs/{job}/reservations", {"lot": packing, "need": 2})
    assert reply.status == 409
    assert "undecided" in reply.body["detail"]
    api.patch(f"/v1/jobs/{job}/needs/1", {"dropped": True, "why": "sound"})
    reply = api.post(f"/v1/jobs/{job}/reservations")
    assert reply.status == 409
    assert "need 2 (gasket) must be decided first" in reply.body["detail"]


def test_a_dropped_need_stays_with_its_reason(api: Api, job: str) -> None:
    """It is neither planned nor reserved, is shown with who dropped it and why, and comes back."""
    head = gaskets(api, "HEAD", HEAD, 2, "A1")
    path = f"/v1/jobs/{job}/needs/1"
    held = api.post(f"/v1/jobs/{job}/reservations").body["reservations"][0]
    drop = {"dropped": True, "why": "the old washer is sound"}
    refused = api.patch(path, drop)
    assert (refused.status, refused.body["errors"][0]["need"]) == (409, 1)
    api.post(f"/v1/reservations/{held['id']}/release")
    dropped = api.patch(path, drop, Sparewell_Person="Ada")
    assert (dropped.status, dropped.body["state"]) == (200, "dropped")
    assert (dropped.body["dropped_by"], dropped.body["dropped_why"]) == ("Ada", drop["why"])
    plan = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    assert (plan["best"], plan["short"], plan["problem"]) == ([], 0, f"dropped: {drop['why']}")
    assert api.post(f"/v1/jobs/{job}/reservations").status == 409
    assert api.patch(path, {"quantity": 2}).status == 409
    extra = api.post(f"/v1/jobs/{job}/reservations", {"lot": head}).body["reservations"][0]
    assert extra["need"] is None
    back = api.patch(path, {"dropped": False}).body
    assert (back["state"], back["dropped_why"], back["dropped_at"]) == ("open", None, None)


def test_used_pieces_keep_their_need(api: Api, job: str) -> None:
    """A need that a piece was used for cannot be dropped any more."""
    gaskets(api, "HEAD", HEAD, 2, "A1")
    held = api.post(f"/v1/jobs/{job}/reservations").body["reservations"][0]
    api.post(f"/v1/reservations/{held['id']}/use")
    reply = api.patch(f"/v1/jobs/{job}/needs/1", {"dropped": True, "why": "no"})
    assert reply.status == 409
    assert states(api, job)[0] == "met"


def test_a_dropped_partner_is_no_partner(api: Api) -> None:
    """Of two needs that are replaced together, the one left alone is paired with none."""
    number = api.post("/v1/pens", {"called": "x", "filling_system": "pneumatic"}).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    api.patch(f"/v1/jobs/{job}/needs/2", {"dropped": True, "why": "new last year"})
    assert [need["paired_with"] for need in api.get(f"/v1/jobs/{job}/plan").body["needs"]] == [
        [],
        [1],
    ]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"quantity": 0}, "/quantity"),
        ({"decided": False}, "/decided"),
        ({"dropped": True}, "/why"),
        ({"why": "so"}, "/why"),
        ({"dropped": False, "why": "so"}, "/why"),
        ({"kind": "sac"}, "/kind"),
        ({"calculator": "sac"}, "/calculator"),
        ({"calculator": "steam"}, "/calculator"),
        ({"given": {"backing_washer": "wide"}}, "/given/backing_washer"),
    ],
)
def test_a_change_that_cannot_be_is_refused_where_it_is(
    api: Api, job: str, change: dict[str, Any], pointer: str
) -> None:
    """The fault is located, and the need is as it was."""
    path = f"/v1/jobs/{job}/needs/1"
    before = api.get(path).body
    reply = api.patch(path, change)
    assert reply.status == 422, reply.text
    assert pointer in [error["pointer"] for error in reply.body["errors"]]
    assert api.get(path).body == before


def test_another_calculator_takes_what_it_knows(api: Api, job: str) -> None:
    """Packing sized as a plain gasket: readings go on, what the other does not take is left out."""
    path = f"/v1/jobs/{job}/needs/2"
    api.patch(path, {"decided": True, "given": {"material": "cork"}})
    outside = api.get(f"/v1/jobs/{job}/plan").body["needs"][1]["result"]["outside_diameter"]
    assert outside == 5.55
    reply = api.patch(path, {"calculator": "gasket"})
    assert (reply.body["calculator"], reply.body["given"]) == ("gasket", {"material": "cork"})
    reply = api.patch(path, {"calculator": None})
    assert (reply.body["calculator"], reply.body["given"]) == (None, {})


def test_a_change_needs_the_present_tag(api: Api, job: str) -> None:
    """Without the tag a change is 428, with an old one 412, and neither changes anything."""
    path = f"/v1/jobs/{job}/needs/1"
    tag = api.get(path).headers["ETag"]
    assert api.call("PATCH", path, {"note": "a"}).status == 428
    assert api.patch(path, {"note": "b"}).status == 200
    assert api.patch(path, {"note": "c"}, If_Match=tag).status == 412
    assert api.get(path).body["note"] == "b"


def test_a_need_of_another_job_is_not_found(api: Api, job: str) -> None:
    """Needs are looked for in their own job only."""
    other = api.job()
    assert api.get(f"/v1/jobs/{other}/needs/1").status == 404
    assert api.get(f"/v1/jobs/{job}/needs/1").status == 200
    reply = api.call("PATCH", f"/v1/jobs/{other}/needs/1", {"note": "x"}, If_Match='"x"')
    assert reply.status == 404


def test_an_ended_job_changes_no_more(api: Api, job: str) -> None:
    """After a job was closed no need is added to it and none is changed."""
    api.post(f"/v1/jobs/{job}/cancel")
    assert api.patch(f"/v1/jobs/{job}/needs/1", {"note": "x"}).status == 409
    assert api.post(f"/v1/jobs/{job}/needs", {"kind": "clip", "seals_where": "x"}).status == 409


def test_a_repeated_addition_adds_once(api: Api, job: str) -> None:
    """The same request with the same key is given the first answer."""
    new = {"kind": "clip", "seals_where": "none"}
    first, second = (
        api.post(f"/v1/jobs/{job}/needs", new, Idempotency_Key="once") for _ in range(2)
    )
    assert first.body == second.body
    assert len(api.get(f"/v1/jobs/{job}").body["needs"]) == 4


def test_a_job_of_the_first_release_still_works(api: Api, database: Database) -> None:
    """A copy with readings as mere names and without tests is shown, planned and reserved."""
    lot = api.stock()
    job = api.job()

    def as_it_was(session: Any) -> None:
        template = (
            '{"name": "lever", "title": "lever filler", "readings": ["barrel_bore", "bar_height"],'
            '"consumables": [], "steps": [], "notes": [], "given": {"bar_kind": "j_bar"},'
            '"sources": []}'
        )
        session.execute(text("UPDATE job SET template = :template"), {"template": template})

    write(database, as_it_was)
    shown = api.get(f"/v1/jobs/{job}").body
    assert (shown["tests"], [each["name"] for each in shown["readings"]]) == (
        [],
        ["barrel_bore", "bar_height"],
    )
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    assert [each["lot"] for each in made] == [lot["id"]]


def test_dropping_and_reserving_at_once_leave_no_promise_for_a_dropped_need(
    app: Any, api: Api
) -> None:
    """Whoever comes first wins: a need is dropped or has its piece, and never both."""
    api.stock(quantity=20)
    for _ in range(6):
        job = api.job()
        path = f"/v1/jobs/{job}/needs/{api.get(f'/v1/jobs/{job}').body['needs'][0]['id']}"
        tag = api.get(path).headers["ETag"]
        drop = {"dropped": True, "why": "the owner has a sac"}
        with ThreadPoolExecutor(2) as pool:
            one = pool.submit(Api(app, api.token).post, f"/v1/jobs/{job}/reservations")
            other = pool.submit(Api(app, api.token).patch, path, drop, If_Match=tag)
        assert {one.result().status, other.result().status} in ({201, 409}, {201, 412}, {409, 200})
        need = api.get(path).body
        assert (need["state"], need["promised"]) in {("dropped", 0), ("promised", 1)}


def test_reading_scope_changes_no_need(app: Any, api: Api, token_of: Callable[[str], str]) -> None:
    """A token that may only read sees the list to fetch and adds no need."""
    job = api.job()
    reader = Api(app, token_of("read"))
    assert reader.get(f"/v1/jobs/{job}/fetch-list").status == 200
    assert reader.post(f"/v1/jobs/{job}/needs", {"kind": "clip", "seals_where": "x"}).status == 403
