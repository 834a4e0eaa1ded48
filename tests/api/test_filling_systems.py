"""Filling systems over HTTP: the shipped ones to read, the workshop's own to write and retire."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from support.api import BODY, Api

# A tank closed by one sac and one ring on its own two readings; a person's words, no plugin's.
OWN: dict[str, Any] = {
    "name": "bellows_tail",
    "title": "sac pressed by a bellows at the tail",
    "needs": [
        {"kind": "sac", "seals_where": "on the nipple", "calculator": "sac", "together": "both"},
        {
            "kind": "o_ring",
            "seals_where": "round the bellows' stem",
            "calculator": "o_ring",
            "given": {"gland": "rod", "duty": "moving"},
            "reads": {"rod": "stem", "bore": "stem_hole"},
            "together": "both",
            "at_most": 2,
            "decided_when_open": True,
            "note": "some have two",
        },
    ],
    "readings": [
        {"name": "nipple_diameter", "instrument": "caliper", "traps": ["shellac on it"]},
        {"name": "stem", "title": "Stem of the bellows", "how": "Micrometer, clean."},
        {"name": "stem_hole", "title": "Hole of the stem", "how": "Drill shanks."},
    ],
    "consumables": ["shellac"],
    "steps": [{"name": "heat", "note": "the tail"}, {"name": "clean", "substance": "water"}],
    "tests": [
        {
            "name": "fill",
            "how": "Weigh it.",
            "passes": "Full enough.",
            "at_least": 0.8,
            "unit": "ml",
        }
    ],
    "notes": ["the bellows unscrews clockwise"],
    "sources": ["my own pens"],
    "given": {"bar_rule": "none"},
}


def changed(**members: Any) -> dict[str, Any]:
    """Return the own system with some members replaced."""
    return deepcopy(OWN) | members


def with_need(**members: Any) -> dict[str, Any]:
    """Return the own system with members of its second need replaced."""
    document = deepcopy(OWN)
    document["needs"][1] |= members
    return document


def test_shipped_and_own_stand_in_one_list_with_their_origin(api: Api) -> None:
    """The list has both in the order of their names, a page at a time, each with its origin."""
    assert api.post("/v1/filling-systems", OWN).status == 201
    found = api.get("/v1/filling-systems?limit=500").body["filling_systems"]
    names = [each["name"] for each in found]
    assert names == sorted(names)
    assert {each["name"]: each["origin"] for each in found if each["origin"] == "own"} == {
        "bellows_tail": "own"
    }
    assert {"lever", "piston", "diaphragm_pump", "cap"} < set(names)
    page = api.get("/v1/filling-systems?limit=1")
    assert [each["name"] for each in page.body["filling_systems"]] == names[:1]
    assert page.headers["Link"] == f'<{page.body["next"]}>; rel="next"'


def test_an_own_system_is_kept_as_it_was_written(api: Api) -> None:
    """What was left out is filled in, who wrote it is kept, and it is found under its Location."""
    made = api.post("/v1/filling-systems", OWN, Sparewell_Person="Ada")
    assert (made.status, made.headers["Location"]) == (201, "/v1/filling-systems/bellows_tail")
    found = api.get("/v1/filling-systems/bellows_tail").body
    assert found == made.body
    assert (found["origin"], found["retired"], found["person"]) == ("own", False, "Ada")
    assert found["needs"][1] == OWN["needs"][1] | {
        "quantity": 1,
        "optional": False,
        "materials": [],
    }
    assert found["tests"][0] == OWN["tests"][0] | {"at_most": None, "expected": ""}
    assert found["readings"][0]["how"].startswith("Clean off old shellac")
    assert found["readings"][0]["traps"] == ["shellac on it"]


def test_a_shipped_system_says_how_each_reading_is_taken(api: Api) -> None:
    """Every reading has a title, an instrument and a way of taking it."""
    for system in api.get("/v1/filling-systems?limit=500").body["filling_systems"]:
        assert system["readings"], system["name"]
        for reading in system["readings"]:
            assert reading["title"], (system["name"], reading)
            assert reading["instrument"], (system["name"], reading)
            assert reading["how"], (system["name"], reading)


FAULTS = [
    (changed(name="Bellows"), "/name"),
    (changed(needs=[]), "/needs"),
    (changed(steps=[{"note": "first"}]), "/steps/0/name"),
    (changed(steps=[{"name": "heat", "minutes": 3}]), "/steps/0/minutes"),
    (changed(readings=[{"name": "nipple_diameter"}, {"name": "stem"}]), "/readings/1/name"),
    (changed(readings=[*OWN["readings"], {"name": "nipple_diameter"}]), "/readings/3/name"),
    (changed(readings=[*OWN["readings"], {"name": "Nipple"}]), "/readings/3/name"),
    (changed(given={"bar_rule": "never"}), "/given/bar_rule"),
    (changed(given={"colour": "red"}), "/given/colour"),
    (changed(tests=[OWN["tests"][0], OWN["tests"][0]]), "/tests/1/name"),
    (changed(tests=[OWN["tests"][0] | {"unit": ""}]), "/tests/0/unit"),
    (changed(tests=[OWN["tests"][0] | {"at_most": "0.5"}]), "/tests/0/at_most"),
    (changed(tests=[OWN["tests"][0] | {"at_least": "much"}]), "/tests/0/at_least"),
    (with_need(kind="gromet"), "/needs/1/kind"),
    (with_need(calculator="ring_maker"), "/needs/1/calculator"),
    (with_need(calculator="sac", given={}, reads={}), "/needs/1/calculator"),
    (with_need(calculator="line_width", given={}, reads={}), "/needs/1/calculator"),
    (with_need(given={"duty": "moving"}), "/needs/1/given"),
    (with_need(given={"gland": "rod", "speed": 3}), "/needs/1/given/speed"),
    (with_need(given={"gland": "sideways"}), "/needs/1/given/gland"),
    (with_need(given={"gland": ["rod"]}), "/needs/1/given/gland"),
    (with_need(reads={"rod": "stem", "depth": "stem_hole"}), "/needs/1/reads/depth"),
    (with_need(reads={"rod": "steam"}), "/needs/1/reads/rod"),
    (with_need(reads={"rod": "try_in"}), "/needs/1/reads/rod"),
    (with_need(together="alone"), "/needs/0/together"),
    (with_need(quantity=0), "/needs/1/quantity"),
    (with_need(quantity=2), "/needs/1/at_most"),
    (with_need(optional="yes"), "/needs/1/optional"),
]


@pytest.mark.parametrize(("document", "pointer"), FAULTS, ids=[pointer for _, pointer in FAULTS])
def test_each_fault_is_refused_where_it_is(api: Api, document: Any, pointer: str) -> None:
    """A template that could not work is refused with the pointer of its fault, and is not kept."""
    reply = api.post("/v1/filling-systems", document)
    assert reply.status == 422, reply.text
    assert pointer in [error["pointer"] for error in reply.body["errors"]]
    assert api.get("/v1/filling-systems/bellows_tail").status == 404


def test_every_fault_is_told_at_once(api: Api) -> None:
    """Each fault of one document is a located error, and a slip in a name is guessed."""
    document = with_need(kind="gromet", together="alone", given={"gland": "top"})
    document["given"] = {"colour": "red"}
    errors = api.post("/v1/filling-systems", document).body["errors"]
    assert [error["pointer"] for error in errors] == [
        "/needs/0/together",
        "/needs/1/together",
        "/needs/1/kind",
        "/needs/1/given/gland",
        "/given/colour",
    ]
    assert "there are barrel, " in errors[2]["detail"]
    near = api.post("/v1/filling-systems", with_need(kind="oring")).body
    assert near["detail"] == (
        "'bellows_tail' wants 'oring', a kind no loaded plugin declares; did you mean 'o_ring'?"
    )


@pytest.mark.parametrize("name", ["lever", "bellows_tail"])
def test_a_name_that_is_taken_is_refused(api: Api, name: str) -> None:
    """Neither a shipped name nor one of the workshop's own can be taken again."""
    api.post("/v1/filling-systems", OWN)
    reply = api.post("/v1/filling-systems", changed(name=name))
    assert (reply.status, reply.body["errors"][0]["pointer"]) == (409, "/name")


def test_a_pen_of_an_own_system_is_repaired_by_its_own_readings(api: Api) -> None:
    """Its own readings are taken and size both needs, and the ring waits to be decided."""
    api.post("/v1/filling-systems", OWN)
    sac = api.stock()
    ring = {"inside_diameter": "1.78 mm", "cross_section": "1.78 mm"}
    api.post("/v1/parts", {"number": "R", "kind": "o_ring", "dimensions": ring, "material": "nbr"})
    lot = api.post("/v1/lots", {"part": "R", "drawer": "A3", "quantity": 5, "measured": ring}).body
    readings = BODY | {"stem": "1.82 mm", "stem_hole": "5.05 mm"}
    pen = {"called": "mystery", "filling_system": "bellows_tail", "readings": readings}
    made = api.post("/v1/pens", pen)
    assert made.status == 201, made.text
    assert made.body["readings"]["stem"]["value"] == 1.82
    job = api.post("/v1/jobs", {"pen": made.body["number"]}).body
    assert [need["state"] for need in job["needs"]] == ["open", "undecided"]
    assert [need["paired_with"] for need in job["needs"]] == [[2], [1]]
    assert job["tests"][0]["at_least"] == 0.8
    assert api.get(f"/v1/jobs/{job['number']}/plan").body["complete"] is False
    path = f"/v1/jobs/{job['number']}/needs/2"
    assert api.patch(path, {"decided": True}).body["state"] == "open"
    plan = api.get(f"/v1/jobs/{job['number']}/plan").body
    assert plan["complete"] is True, plan["needs"][1]
    assert [need["best"][0]["lot"] for need in plan["needs"]] == [sac["id"], lot["id"]]


def test_a_reading_of_one_system_is_none_of_another(api: Api) -> None:
    """What only the own system reads is refused on a lever pen, and taken on its own later."""
    api.post("/v1/filling-systems", OWN)
    pen = {"called": "x", "filling_system": "lever", "readings": {"stem": 2}}
    reply = api.post("/v1/pens", pen)
    assert (reply.status, reply.body["errors"][0]["pointer"]) == (422, "/readings/stem")
    pen |= {"filling_system": "bellows_tail", "readings": {}}
    number = api.post("/v1/pens", pen).body["number"]
    assert api.post(f"/v1/pens/{number}/readings", {"readings": {"stem": 2}}).status == 201


def test_a_changed_system_leaves_the_jobs_there_are_alone(api: Api) -> None:
    """A job keeps its copy; the next job on the same pen has the changed one."""
    api.post("/v1/filling-systems", OWN)
    pen = {"called": "x", "filling_system": "bellows_tail"}
    number = api.post("/v1/pens", pen).body["number"]
    first = api.post("/v1/jobs", {"pen": number}).body
    alone = OWN["needs"][0] | {"together": ""}
    change = {"needs": [alone, {"kind": "spring", "seals_where": "none"}], "notes": []}
    reply = api.patch("/v1/filling-systems/bellows_tail", change)
    assert (reply.status, reply.body["title"]) == (200, OWN["title"])
    second = api.post("/v1/jobs", {"pen": number}).body
    assert api.get(f"/v1/jobs/{first['number']}").body == first
    assert [need["kind"] for need in first["needs"]] == ["sac", "o_ring"]
    assert [need["kind"] for need in second["needs"]] == ["sac", "spring"]


def test_a_change_is_held_to_the_same_rules(api: Api) -> None:
    """A change that breaks the template is refused where it is and leaves it as it was."""
    before = api.post("/v1/filling-systems", OWN).body
    reply = api.patch("/v1/filling-systems/bellows_tail", {"readings": []})
    assert reply.status == 422
    assert [error["pointer"] for error in reply.body["errors"]] == [
        "/needs/1/reads/rod",
        "/needs/1/reads/bore",
    ]
    assert api.get("/v1/filling-systems/bellows_tail").body == before
    stale = api.patch("/v1/filling-systems/bellows_tail", {"notes": []}, If_Match='"stale"')
    assert stale.status == 412


def test_a_shipped_system_is_not_changed_but_copied(api: Api) -> None:
    """Changing or retiring a shipped one is refused, with the advice to copy it."""
    for change in ({"retired": True}, {"title": "mine"}):
        reply = api.patch("/v1/filling-systems/lever", change)
        assert reply.status == 409
        assert "copy it under another name" in reply.body["detail"]
    assert api.get("/v1/filling-systems/lever").body["title"] == "lever filler"


def test_a_retired_system_is_not_offered_for_new_pens(api: Api) -> None:
    """New pens are refused it; the pens and jobs there are go on, and it can come back."""
    api.post("/v1/filling-systems", OWN)
    pen = {"called": "x", "filling_system": "bellows_tail"}
    number = api.post("/v1/pens", pen).body["number"]
    retired = api.patch("/v1/filling-systems/bellows_tail", {"retired": True})
    assert (retired.status, retired.body["retired"]) == (200, True)
    assert retired.body["retired_at"] is not None
    refused = api.post("/v1/pens", pen)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/filling_system")
    assert "retired" in refused.body["detail"]
    unknown = api.post("/v1/pens", pen | {"filling_system": "steam"}).body["detail"]
    assert "lever" in unknown
    assert "bellows_tail" not in unknown
    lever = api.post("/v1/pens", pen | {"filling_system": "lever"}).body["number"]
    assert api.patch(f"/v1/pens/{lever}", {"filling_system": "bellows_tail"}).status == 422
    assert api.post(f"/v1/pens/{number}/readings", {"readings": {"stem": 2}}).status == 201
    job = api.post("/v1/jobs", {"pen": number})
    assert job.status == 201
    assert api.get(f"/v1/jobs/{job.body['number']}/plan").status == 200
    back = api.patch("/v1/filling-systems/bellows_tail", {"retired": False}).body
    assert (back["retired"], back["retired_at"]) == (False, None)
    assert api.post("/v1/pens", pen).status == 201


def test_an_unknown_system_is_not_found(api: Api) -> None:
    """A name that nobody declared or wrote answers 404, to look at and to change."""
    assert api.get("/v1/filling-systems/steam").status == 404
    reply = api.patch("/v1/filling-systems/steam", {"retired": True}, If_Match='"x"')
    assert reply.status == 404
