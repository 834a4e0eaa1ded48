"""Intake over HTTP: what is noted of pen and job, materials by component, corrected readings."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import BODY, Api

PEN = {"called": "olive lever pen", "filling_system": "lever", "materials": ["celluloid"]}
SAID_OF_PEN = {
    "owner": "the baker across the street",
    "accessories": "box, papers",
    "condition": "lip cracked",
    "components": [{"component": "barrel", "material": "celluloid", "confidence": "tested"}],
    "model_note": "Olive, long",
    "cost": "42.50",
}
SAID_OF_JOB = {
    "wishes": "return unrepaired rather than risk breakage",
    "promised_on": "2026-12-20",
    "estimate": "60.00",
    "ceiling": "75.00",
    "postage": "6.90",
}


def new_pen(api: Api, **more: Any) -> dict[str, Any]:
    """Put a pen on the bench and return it."""
    reply = api.post("/v1/pens", PEN | {"readings": BODY} | more)
    assert reply.status == 201, reply.text
    return dict(reply.body)


def test_what_is_said_of_a_pen_is_kept_and_can_be_changed(api: Api) -> None:
    """Each word of the intake comes back as it went in, and a PATCH changes only what it names."""
    pen = new_pen(api, **SAID_OF_PEN)
    assert {name: pen[name] for name in SAID_OF_PEN} == SAID_OF_PEN
    assert (pen["retired"], pen["retired_at"]) == (False, None)
    changed = api.patch(f"/v1/pens/{pen['number']}", {"owner": "the baker's son", "cost": None})
    assert changed.body == pen | {"owner": "the baker's son", "cost": None}
    bare = api.post("/v1/pens", PEN).body
    assert (bare["owner"], bare["components"], bare["cost"]) == ("", [], None)


def test_what_is_agreed_of_a_job_is_kept_and_can_be_changed(api: Api) -> None:
    """Wishes, date, estimate, ceiling and postage come back as they went in, also after PATCH."""
    pen = new_pen(api)["number"]
    job = api.post("/v1/jobs", {"pen": pen, **SAID_OF_JOB}).body
    assert {name: job[name] for name in SAID_OF_JOB} == SAID_OF_JOB
    changed = api.patch(f"/v1/jobs/{job['number']}", {"promised_on": None, "ceiling": 80})
    assert changed.body == job | {"promised_on": None, "ceiling": "80.00"}


@pytest.mark.parametrize(
    ("components", "fully_known"),
    [
        ([], True),
        ([{"component": "cap", "material": "celluloid", "confidence": "tested"}], True),
        ([{"component": "cap", "material": "casein", "confidence": "tested"}], True),
        ([{"component": "cap", "material": "celluloid", "confidence": "owner says"}], True),
        ([{"component": "cap", "material": "celluloid", "confidence": "looks like"}], False),
        ([{"component": "cap", "confidence": "unknown"}], False),
        ([{"component": "cap", "material": "acrylic"}], False),
    ],
)
def test_cautions_see_every_component_and_how_sure_it_is(
    api: Api, components: list[Any], *, fully_known: bool
) -> None:
    """A casein cap on a celluloid pen is no pen for water, and what is not sure may be casein."""
    pen = new_pen(api, components=components)["number"]
    job = api.post("/v1/jobs", {"pen": pen}).body
    plan = api.get(f"/v1/jobs/{job['number']}/plan").body
    told = " ".join(each["caution"].lower() for each in plan["cautions"])
    shown = " ".join(text.lower() for step in job["steps"] for text in step["cautions"])
    has_casein = any(each.get("material") == "casein" for each in components)
    for cautions in (told, shown):
        assert ("casein" in cautions) is (has_casein or not fully_known)
        assert ("not fully known" in cautions) is not fully_known


def test_corrected_reading_is_kept_and_no_longer_counts(api: Api) -> None:
    """The reading that was wrong stays with the reason, and plan and pen go by the new one."""
    pen = new_pen(api, readings=BODY | {"barrel_bore": "6.0 mm"})
    wrong = pen["readings"]["barrel_bore"]
    api.stock()
    job = api.post("/v1/jobs", {"pen": pen["number"]}).body["number"]
    assert api.get(f"/v1/jobs/{job}/plan").body["needs"][0]["short"] == 1
    body = {"readings": {"barrel_bore": "8.0 mm"}, "corrects": wrong["id"], "why": "jaw slipped"}
    corrected = api.post(f"/v1/pens/{pen['number']}/readings", body, Sparewell_Person="Ana")
    assert corrected.status == 201
    present = corrected.body["readings"]["barrel_bore"]
    assert (present["value"], present["correction"]) == (8.0, None)
    kept = next(each for each in corrected.body["all_readings"] if each["id"] == wrong["id"])
    assert (kept["value"], kept["entered"]) == (6.0, "6.0 mm")
    assert (kept["correction"]["why"], kept["correction"]["person"]) == ("jaw slipped", "Ana")
    assert kept["correction"]["by"] == present["id"]
    assert api.get(f"/v1/jobs/{job}/plan").body["needs"][0]["short"] == 0


def test_a_reading_of_the_wrong_thing_leaves_the_earlier_one_standing(api: Api) -> None:
    """When the bore was noted as the nipple's, the earlier nipple counts again."""
    pen = new_pen(api)
    path = f"/v1/pens/{pen['number']}/readings"
    mixed_up = api.post(path, {"readings": {"nipple_diameter": "8.2 mm"}}).body
    body = {
        "readings": {"barrel_bore": "8.2 mm"},
        "corrects": mixed_up["readings"]["nipple_diameter"]["id"],
        "why": "it was the barrel",
    }
    readings = api.post(path, body).body["readings"]
    assert readings["barrel_bore"]["value"] == 8.2
    assert readings["nipple_diameter"]["value"] == 6.4


@pytest.mark.parametrize(
    ("more", "status", "pointer"),
    [
        ({"corrects": 999_999, "why": "gone"}, 422, "/corrects"),
        ({"corrects": "first", "why": "text"}, 422, "/corrects"),
        ({"corrects": 0, "why": "none"}, 422, "/corrects"),
        ({"why": "no reading named"}, 422, "/corrects"),
        ({"corrects": 1}, 422, "/why"),
        ({"corrects": 1, "why": " "}, 422, "/why"),
        ({"corrects": 1, "why": "x" * 2001}, 422, "/why"),
    ],
)
def test_correction_that_cannot_be_is_refused_where_the_fault_is(
    api: Api, more: dict[str, Any], status: int, pointer: str
) -> None:
    """A correction names a reading of this pen and its reason; else nothing is added."""
    number = new_pen(api)["number"]
    path = f"/v1/pens/{number}"
    before = api.get(path).body
    refused = api.post(f"{path}/readings", {"readings": {"barrel_bore": "8 mm"}} | more)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (status, pointer)
    assert api.get(path).body == before


def test_a_reading_is_corrected_once_and_only_by_its_own_pen(api: Api) -> None:
    """A second correction is 409 with the first one's reason; another pen's reading is 422."""
    one, other = new_pen(api), new_pen(api)
    wrong = one["readings"]["barrel_bore"]["id"]
    body = {"readings": {"barrel_bore": "8.1 mm"}, "corrects": wrong, "why": "read again"}
    assert api.post(f"/v1/pens/{other['number']}/readings", body).status == 422
    assert api.post(f"/v1/pens/{one['number']}/readings", body).status == 201
    again = api.post(f"/v1/pens/{one['number']}/readings", body)
    assert again.status == 409
    assert "read again" in again.body["detail"]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"owner": 7}, "/owner"),
        ({"owner": "x" * 201}, "/owner"),
        ({"cost": "-1"}, "/cost"),
        ({"cost": "1.005"}, "/cost"),
        ({"retired": "yes"}, "/retired"),
        ({"components": [{}]}, "/components/0/component"),
        ({"components": [{"component": "cap", "colour": "red"}]}, "/components/0/colour"),
        ({"components": [{"component": "cap", "confidence": "sure"}]}, "/components/0/confidence"),
        ({"components": [{"component": "cap"}] * 51}, "/components"),
        ({"model_note": None}, "/model_note"),
    ],
)
def test_bad_words_on_a_pen_are_refused(api: Api, body: dict[str, Any], pointer: str) -> None:
    """Each is 422 where the fault is, and the pen stays as it was."""
    pen = new_pen(api, **SAID_OF_PEN)
    refused = api.patch(f"/v1/pens/{pen['number']}", body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer)
    assert api.get(f"/v1/pens/{pen['number']}").body == pen


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"promised_on": "soon"}, "/promised_on"),
        ({"promised_on": "2026-02-30"}, "/promised_on"),
        ({"promised_on": "20261220"}, "/promised_on"),
        ({"ceiling": "much"}, "/ceiling"),
        ({"estimate": 1.005}, "/estimate"),
        ({"approval": "approved"}, "/approval"),
        ({"approval": {}}, "/approval/state"),
        ({"approval": {"state": "yes"}}, "/approval/state"),
        ({"time_minutes": -1}, "/time_minutes"),
        ({"time_minutes": 1.5}, "/time_minutes"),
        ({"wishes": "x" * 2001}, "/wishes"),
    ],
)
def test_bad_words_on_a_job_are_refused(api: Api, body: dict[str, Any], pointer: str) -> None:
    """Each is 422 where the fault is, and the job stays as it was."""
    number = api.job()
    before = api.get(f"/v1/jobs/{number}").body
    refused = api.patch(f"/v1/jobs/{number}", body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer)
    assert api.get(f"/v1/jobs/{number}").body == before


@pytest.mark.parametrize("body", [{}, {"quantity": 1}])
def test_nothing_is_reserved_on_a_declined_job(api: Api, body: dict[str, Any]) -> None:
    """While the owner's last word is no, both ways of reserving are 409 with the reason."""
    lot, job = api.stock(), api.job()
    body = body | ({"lot": lot["id"]} if body else {})
    path = f"/v1/jobs/{job}"
    assert api.get(path).body["approval"]["state"] == "not_asked"
    said = {"state": "declined", "by": "the owner's wife", "note": "too dear"}
    told = api.patch(path, {"approval": said}, Sparewell_Person="Ana").body["approval"]
    assert {name: told[name] for name in said} == said
    assert (told["person"], told["at"]) == ("Ana", "2026-11-25T12:00:00.000Z")
    refused = api.post(f"{path}/reservations", body)
    assert refused.status == 409
    assert (
        "the owner's wife declined the estimate on 2026-11-25: too dear" in refused.body["detail"]
    )
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 0
    assert api.patch(path, {"approval": {"state": "approved"}}).status == 200
    assert api.post(f"{path}/reservations", body).status == 201


@pytest.mark.parametrize("state", ["not_asked", "asked", "approved"])
def test_only_a_refusal_of_the_owner_stops_reserving(api: Api, state: str) -> None:
    """With any other word of the owner's the best set is reserved."""
    api.stock()
    job = api.post("/v1/jobs", {"pen": api.pen(), "approval": {"state": state}}).body
    assert job["approval"]["state"] == state
    assert api.post(f"/v1/jobs/{job['number']}/reservations").status == 201


@pytest.mark.parametrize(
    ("ceiling", "cost", "warned"),
    [
        ("2.54", "8.50", "its parts cost 2.55, above the agreed ceiling of 2.54"),
        ("2.55", "8.50", None),
        ("0.00", "8.50", "its parts cost 2.55, above the agreed ceiling of 0.00"),
        ("9.00", None, "3 of its pieces have no known cost"),
        (None, "8.50", None),
        (None, None, None),
    ],
)
def test_parts_above_the_ceiling_are_never_silent(
    api: Api, ceiling: str | None, cost: str | None, warned: str | None
) -> None:
    """What is promised and used counts at its share of the lot, before and after it is used."""
    lot = api.stock(cost=cost)
    job = api.post("/v1/jobs", {"pen": api.pen(), "ceiling": ceiling}).body["number"]
    body = {"lot": lot["id"], "quantity": 3}
    answer = api.post(f"/v1/jobs/{job}/reservations", body).body
    assert answer["warnings"] == api.get(f"/v1/jobs/{job}").body["warnings"]
    made = answer["reservations"][0]["id"]
    for used in (0, 1, 2):
        if used:
            api.post(f"/v1/reservations/{made}/use", {"quantity": used})
        shown = api.get(f"/v1/jobs/{job}").body
        assert shown["parts_cost"] == ("2.55" if cost else "0.00")
        assert len(shown["warnings"]) == (1 if warned else 0)
        assert (warned or "") in " ".join(shown["warnings"])
        assert api.get("/v1/jobs").body["jobs"][0] == shown


def test_retired_pens_stay_and_get_no_new_job(api: Api) -> None:
    """A retired pen can be read, gets no job, and comes back when that is taken back."""
    number = new_pen(api)["number"]
    path = f"/v1/pens/{number}"
    retired = api.patch(path, {"retired": True}).body
    assert (retired["retired"], retired["retired_at"]) == (True, "2026-11-25T12:00:00.000Z")
    refused = api.post("/v1/jobs", {"pen": number})
    assert refused.status == 409
    assert "retired" in refused.body["detail"]
    assert [each["number"] for each in api.get("/v1/pens").body["pens"]] == [number]
    assert api.patch(path, {"retired": False}).body["retired_at"] is None
    assert api.post("/v1/jobs", {"pen": number}).status == 201
