"""Donors on the bench page: keeping one, looking, and taking pieces out."""

from __future__ import annotations

from typing import Any

from support.api import Api
from support.bench import Bench, Page


def donor(api: Api, **more: Any) -> dict[str, Any]:
    """A donor with a cap, its clip, a damaged feed and a missing lever."""
    body = {
        "called": "red lever pen",
        "materials": ["celluloid"],
        "components": [
            {"kind": "feed", "state": "damaged"},
            {"kind": "cap", "state": "present", "measured": {"inside_diameter": "11.2 mm"}},
            {"kind": "lever", "state": "missing"},
            {"kind": "clip", "part_of": 1},
        ],
    }
    reply = api.post("/v1/donors", body | more)
    assert reply.status == 201, reply.text
    return dict(reply.body)


def lot_of(made: dict[str, Any], kind: str) -> int:
    """The bag that a piece of a donor is."""
    (found,) = [each["lot"] for each in made["components"] if each["kind"] == kind]
    return int(found)


def promise(api: Api, lot: int) -> tuple[str, int]:
    """A job that has a piece promised, and the reservation."""
    job = api.job()
    reply = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot, "quantity": 1})
    assert reply.status == 201, reply.text
    return job, reply.body["reservations"][0]["id"]


def state_of(api: Api, number: str, kind: str) -> str:
    """What the checklist says of a piece."""
    components = api.get(f"/v1/donors/{number}").body["components"]
    (found,) = [each["state"] for each in components if each["kind"] == kind]
    return str(found)


def look(bench: Bench, page: Page, said: str) -> Page:
    """Press what was seen."""
    return bench.send(page, f"{page.path}/looked", said)


def test_the_list_says_what_is_still_in_each(bench: Bench, api: Api) -> None:
    """What is there is named, with what is promised of it; what is damaged or missing is not."""
    made = donor(api)
    job, _ = promise(api, lot_of(made, "clip"))
    text = bench.get("/donors").text
    assert f"Still in it: cap, clip (promised to {job})" in text
    assert "feed" not in text
    assert "lever," not in text
    donor(api, called="bare", materials=[], components=[])
    assert "bare Nothing is left in it." in bench.get("/donors").text


def test_a_donor_is_kept_with_what_is_fixed_in_what(bench: Bench, api: Api) -> None:
    """Whatever the order of the ticks, the clip lies in the cap, and nothing was looked at yet."""
    ticks = {"has-cap": "yes", "has-clip": "yes", "inside-clip": "cap", "has-nib": "yes"}
    page = bench.send(
        bench.get("/donors/new"),
        "/donors/new",
        "Keep it",
        called="red lever pen",
        materials="celluloid, hard rubber",
        note="aired",
        **ticks,
    )
    assert (page.status, page.path) == (200, "/donors/DON-0001")
    assert "Kept as a donor." in page.text
    made = api.get("/v1/donors/DON-0001").body
    assert made["materials"] == ["celluloid", "hard rubber"]
    components = {each["kind"]: each for each in made["components"]}
    assert components.keys() == {"cap", "clip", "nib"}
    assert components["clip"]["part_of"] == components["cap"]["id"]
    assert {each["state"] for each in made["components"]} == {"unchecked"}


def test_a_refused_donor_keeps_every_tick(bench: Bench, api: Api) -> None:
    """A clip fixed in a cap that is not ticked is told at the clip; nothing is kept yet."""
    typed = {"has-clip": "yes", "inside-clip": "cap", "note": "aired"}
    page = bench.send(bench.get("/donors/new"), "/donors/new", "Keep it", called="red", **typed)
    assert page.status == 422
    assert page.faults == {"inside-clip": "tick the piece it is fixed in as well"}
    form = page.form("/donors/new")
    assert {name: form[name] for name in typed} == typed
    assert form["called"] == "red"
    assert api.get("/v1/donors").body["donors"] == []
    ring = {"has-cap": "yes", "inside-cap": "clip", **typed}
    page = bench.send(page, "/donors/new", "Keep it", **ring)
    assert page.faults["inside-cap"] == "these would be fixed in each other"
    nameless = bench.send(bench.get("/donors/new"), "/donors/new", "Keep it", note="aired")
    assert nameless.faults["called"] == "required"


def test_the_checklist_shows_cautions_first_and_nests_what_is_fixed(bench: Bench, api: Api) -> None:
    """Celluloid is warned of before anything else; the clip stands below its cap, indented."""
    made = donor(api)
    page = bench.get(f"/donors/{made['number']}")
    order = [page.text.index(each) for each in ("Celluloid decays", "Feed", "Cap", "Clip", "Lever")]
    assert order[0] == min(order)
    assert order[2] < order[3] < order[4]
    assert page.html.count("fixed-in") == 1
    assert "inside diameter 11.2 mm" in page.text
    assert "Feed damaged" in page.text
    assert "Lever missing" in page.text
    assert "Clip not looked at" in page.text


def test_one_press_notes_what_was_seen(bench: Bench, api: Api) -> None:
    """The clip is found damaged, then found to be good after all; what it was fixed in stays."""
    number = donor(api)["number"]
    page = look(bench, bench.get(f"/donors/{number}"), "Clip: damaged")
    assert "Noted." in page.text
    assert "Clip damaged" in page.text
    assert state_of(api, number, "clip") == "damaged"
    page = look(bench, page, "Clip: present")
    assert state_of(api, number, "clip") == "present"
    assert page.html.count("fixed-in") == 1


def test_what_somebody_noted_meanwhile_is_not_passed_over(bench: Bench, api: Api) -> None:
    """Both looked; the second is told what the first has noted."""
    number = donor(api)["number"]
    page = bench.get(f"/donors/{number}")
    look(bench, page, "Clip: missing")
    late = look(bench, page, "Clip: present")
    assert late.status == 409
    assert "Somebody noted it as missing meanwhile. Look again." in late.problems
    assert state_of(api, number, "clip") == "missing"


def test_a_promised_piece_is_not_noted_as_missing(bench: Bench, api: Api) -> None:
    """The job that has it is named instead."""
    made = donor(api)
    job, _ = promise(api, lot_of(made, "clip"))
    page = bench.get(f"/donors/{made['number']}")
    assert f"promised to {job}" in page.text
    refused = look(bench, page, "Clip: missing")
    assert refused.status == 409
    assert any(job in each for each in refused.problems)


def test_ticked_pieces_go_into_a_drawer_with_what_is_fixed_in_them(bench: Bench, api: Api) -> None:
    """The cap goes with its clip; the checklist says where they lie, and its buttons are gone."""
    api.post("/v1/drawers", {"code": "A3"})
    made = donor(api)
    page = bench.get(f"/donors/{made['number']}")
    cap = str(lot_of(made, "cap"))
    assert page.form(f"{page.path}/strip").offered["lots"] == [cap, str(lot_of(made, "clip"))]
    done = bench.send(page, f"{page.path}/strip", "Take them out", lots=[cap], drawer="A3")
    assert "Taken out of the donor." in done.text
    assert "Cap taken out, lies in A3" in done.text
    assert "Clip taken out, lies in A3" in done.text
    assert not [form for form in done.forms if form.action.endswith("/strip")]
    assert f"/bags/{cap}" in bench.get("/drawers/A3").links.values()


def test_somebody_else_took_the_piece(bench: Bench, api: Api) -> None:
    """The ticks and the drawer are kept, and what is gone is said."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/drawers", {"code": "B1"})
    made = donor(api, components=[{"kind": "nib"}, {"kind": "lever"}])
    nib, lever = str(lot_of(made, "nib")), str(lot_of(made, "lever"))
    page = bench.get(f"/donors/{made['number']}")
    strip = f"{page.path}/strip"
    bench.send(page, strip, "Take them out", lots=[nib], drawer="A3")
    typed = {"lots": [nib, lever], "drawer": "B1", "note": "for the olive one"}
    late = bench.send(page, strip, "Take them out", **typed)
    assert late.status == 409
    assert any("not all of these are in" in each for each in late.problems)
    form = late.form(strip)
    assert (form["lots"], form["drawer"], form["note"]) == (lever, "B1", "for the olive one")
    assert f"/bags/{nib}" not in bench.get("/drawers/B1").links.values()


def test_taking_out_nothing_is_refused(bench: Bench, api: Api) -> None:
    """It asks for a tick, and keeps the note."""
    number = donor(api)["number"]
    strip = f"/donors/{number}/strip"
    page = bench.send(bench.get(f"/donors/{number}"), strip, "Take them out", note="soon")
    assert (page.status, page.problems) == (422, ["tick what you take out"])
    assert page.form(strip)["note"] == "soon"


def test_a_piece_that_was_fitted_says_for_which_job(bench: Bench, api: Api) -> None:
    """Its line stays on the checklist, with the job linked and nothing left to press."""
    made = donor(api)
    job, reservation = promise(api, lot_of(made, "clip"))
    assert api.post(f"/v1/reservations/{reservation}/use").status == 200
    page = bench.get(f"/donors/{made['number']}")
    assert f"Clip fitted for {job}" in page.text
    assert page.links[job] == f"/jobs/{job}"
    looked = [button[0] for form in page.forms for button in form.buttons]
    assert "Clip: present" not in looked
    assert "Cap: damaged" in looked


def test_a_piece_is_added_to_the_checklist(bench: Bench, api: Api) -> None:
    """It may be fixed in one that is there; a refusal keeps what was chosen."""
    number = donor(api)["number"]
    page = bench.get(f"/donors/{number}")
    add = f"/donors/{number}/add"
    (cap,) = [value for value in page.form(add).offered["part_of"] if value][:1]
    done = bench.send(page, add, "Add it", kind="inner_cap", state="present", part_of=cap)
    assert "Added to its checklist." in done.text
    assert "Inner cap present" in done.text
    refused = bench.send(done, add, "Add it", state="missing", part_of=cap)
    assert (refused.status, refused.faults["kind"]) == (422, "required")
    assert (refused.form(add)["state"], refused.form(add)["part_of"]) == ("missing", cap)


def test_no_such_donor_is_said(bench: Bench, api: Api) -> None:
    """Neither a donor nor a line of one that is not there can be looked at."""
    assert bench.get("/donors/DON-0009").status == 404
    number = donor(api)["number"]
    page = bench.post(f"/donors/{number}/looked", component="999", state="present", seen="missing")
    assert page.status == 404
    assert any("999" in each for each in page.problems)
