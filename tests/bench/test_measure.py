"""From the caliper to the answer, to the drawer, to a promise."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

import pytest

from support.api import BODY, Api
from support.bench import Bench, Page

SAC = "/measure/sac"
NEW_PEN = {"job": "new", "called": "olive lever pen", "filling_system": "lever"}


def sized(bench: Bench, **readings: str) -> Page:
    """The page of a sac with these readings typed in."""
    return bench.get(f"{SAC}?{urlencode(readings)}")


def test_every_calculator_has_its_page(bench: Bench, api: Api) -> None:
    """Whatever plugins declare can be chosen, and its form asks for each of its inputs."""
    first = bench.get("/measure")
    calculators = api.get("/v1/calculators").body["calculators"]
    assert len(calculators) > 8
    for calculator in calculators:
        assert any(f"/measure/{calculator['name']}" == link for link in first.links.values())
        page = bench.get(f"/measure/{calculator['name']}")
        asked = {
            name for name, _ in page.form(f"/measure/{calculator['name']}", "Work it out").fields
        }
        asked |= set(page.labels)
        for declared in calculator["inputs"]:
            assert any(name.split(".")[0] == declared["name"] for name in asked), declared["name"]


def test_the_answer_is_the_apis(bench: Bench, api: Api) -> None:
    """Size, drawing, working, settings and sources are those that a script is given."""
    api.stock()
    told = api.post("/v1/fits/sac", BODY).body
    page = sized(bench, **BODY)
    assert page.status == 200
    assert "15½ recommended" in page.text
    assert told["drawing"] in page.html
    for sentence in (*told["result"]["working"], *told["warnings"], *told["cautions"]):
        assert " ".join(sentence.split()) in page.text
    for used in told["settings"]:
        assert f"/settings/{used['name']}" in page.links.values()
    assert told["candidates"][0]["why"] in page.text


def test_readings_are_typed_as_people_think(bench: Bench) -> None:
    """64ths, inches with a mark and a decimal comma give the answer that millimetres give."""
    page = sized(
        bench,
        barrel_bore='0.315"',
        bar_height="0,9 mm",
        nipple_diameter="16 1/8/64 in",
        barrel_depth="62",
    )
    assert page.status == 422
    assert set(page.faults) == {"nipple_diameter"}
    assert page.forms[0]["barrel_bore"] == '0.315"'
    again = sized(bench, **{**BODY, "barrel_bore": '0.315"', "bar_height": "0,9"})
    assert "15½ recommended" in again.text


def test_what_is_only_missing_is_asked_for_and_not_blamed(bench: Bench) -> None:
    """A half-filled form is no fault: the page says what it still wants."""
    page = sized(bench, barrel_bore="8 mm")
    assert page.status == 200
    assert page.problems == []
    assert "Still needed: nipple, outside" in page.text


def test_a_reading_that_cannot_be_is_refused_at_its_field(bench: Bench) -> None:
    """The field says what was wrong, and keeps what was typed."""
    page = sized(bench, **{**BODY, "barrel_bore": "0.8 mm"})
    assert page.status == 422
    assert page.faults
    assert page.forms[0]["barrel_bore"] == "0.8 mm"
    assert "Reserve" not in page.text


def test_a_script_is_given_the_answer_alone(bench: Bench) -> None:
    """With the header of the page's own script only the part to be redrawn comes back."""
    page = bench.get(f"{SAC}?{urlencode(BODY)}", Sparewell_Part="answer")
    assert "15½" in page.text
    assert "<html" not in page.html
    assert "<form" not in page.html.split("What you have")[0]


def test_from_reading_to_reserved_in_one_press(bench: Bench, api: Api) -> None:
    """A pen not yet noted gets its readings, its job and its piece by one button."""
    lot = api.stock()
    page = sized(bench, **BODY)
    pressed = "Reserve one from A3, SAC-15-STR"
    job = bench.send(page, SAC, pressed, **NEW_PEN)
    assert job.path.startswith("/jobs/JOB-")
    assert "Reserved." in job.text
    (pen,) = api.get("/v1/pens").body["pens"]
    assert {name: each["entered"] for name, each in pen["readings"].items()} == BODY
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 1


def test_a_form_sent_twice_reserves_once(bench: Bench, api: Api) -> None:
    """A thumb that slips makes one pen, one job and one promise."""
    lot = api.stock()
    page = sized(bench, **BODY)
    pressed = "Reserve one from A3, SAC-15-STR"
    first = bench.send(page, SAC, pressed, **NEW_PEN)
    assert bench.send(page, SAC, pressed, **NEW_PEN).path == first.path
    assert len(api.get("/v1/pens").body["pens"]) == 1
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 1


@pytest.mark.parametrize(
    ("whom", "said"),
    [
        ({}, "choose a job"),
        ({"job": "new", "filling_system": "lever"}, "what the pen is called"),
        ({"job": "new", "called": "olive"}, "how it fills"),
    ],
)
def test_no_pen_is_made_that_nobody_asked_for(
    bench: Bench, api: Api, whom: dict[str, str], said: str
) -> None:
    """Without a choice, a name or a system nothing is made or reserved, and it is asked for."""
    lot = api.stock()
    page = sized(bench, **BODY)
    refused = bench.send(page, SAC, "Reserve one from A3, SAC-15-STR", **whom)
    assert refused.status == 422
    assert said in refused.text
    assert api.get("/v1/pens").body["pens"] == []
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 0


def test_for_whom_stands_outside_of_what_is_redrawn(bench: Bench, api: Api) -> None:
    """The part that a script redraws holds the pieces, and never the choice of pen or job."""
    api.stock()
    api.job()
    part = bench.get(f"{SAC}?{urlencode(BODY)}", Sparewell_Part="answer")
    assert "Reserve" in part.text
    assert 'name="job"' not in part.html
    assert 'form="for-whom"' in part.html
    assert 'id="for-whom"' in bench.get(SAC).html


def test_for_a_job_on_the_bench_the_readings_go_with_its_pen(bench: Bench, api: Api) -> None:
    """What is newly read is noted with the pen, what it had already is not noted twice."""
    api.stock()
    job = api.job()
    page = sized(bench, **{**BODY, "nipple_diameter": "6.5 mm"})
    bench.send(page, SAC, "Reserve one from A3, SAC-15-STR", job=job)
    (pen,) = api.get("/v1/pens").body["pens"]
    assert pen["readings"]["nipple_diameter"]["entered"] == "6.5 mm"
    assert len(pen["all_readings"]) == len(BODY) + 1
    (reservation,) = api.get("/v1/reservations").body["reservations"]
    assert reservation["job"] == job


def test_a_lost_race_is_shown_with_what_there_is_now(bench: Bench, api: Api) -> None:
    """Whoever comes second reads who has the piece, keeps the readings, and sees the rest."""
    lot, other = api.stock(1), api.job()
    page = sized(bench, **BODY)
    taken = api.post(f"/v1/jobs/{other}/reservations", {"lot": lot["id"], "quantity": 1})
    assert taken.status == 201
    lost = bench.send(page, SAC, "Reserve one from A3, SAC-15-STR", **NEW_PEN)
    assert lost.status == 409
    assert other in lost.problems[0]
    assert "Nothing was reserved" in lost.text
    assert "15½ recommended" in lost.text
    assert lost.forms[0]["barrel_bore"] == BODY["barrel_bore"]
    assert f"promised to {other}" in lost.text


def test_nothing_in_hand_says_what_to_order(bench: Bench) -> None:
    """With empty drawers the page says what to ask a seller for."""
    page = sized(bench, **BODY)
    assert "Nothing in the drawers or the donors." in page.text
    assert "To order" in page.text


@pytest.mark.parametrize(
    ("calculator", "readings", "large"),
    [
        ("line_width", {"width": "0.6 mm"}, "western"),
        ("shelf_life", {"material": "silicone", "made_on": "2026-03"}, "state"),
        (
            "spring",
            {
                "wire_diameter": "0.5",
                "outside_diameter": "6",
                "total_coils": "8",
                "ends": "squared_ground",
                "material": "music_wire",
            },
            "rate n per mm",
        ),
    ],
)
def test_other_calculators_answer_in_large_figures(
    bench: Bench, calculator: str, readings: dict[str, Any], large: str
) -> None:
    """Each shows its own headline; none is known to the page by name."""
    page = bench.get(f"/measure/{calculator}?{urlencode(readings)}")
    assert page.status == 200, page.problems
    assert large in page.text


def test_a_chosen_job_lends_the_materials_of_its_pen(bench: Bench, api: Api) -> None:
    """The page ranks for the pen of the job as the API does when told what that pen is made of."""
    api.stock(material="latex")
    body = {"called": "green", "filling_system": "lever", "materials": ["celluloid"]}
    pen = api.post("/v1/pens", body).body["number"]
    job = api.post("/v1/jobs", {"pen": pen}).body["number"]
    plain = api.post("/v1/fits/sac", BODY).body["candidates"][0]["why"]
    known = api.post("/v1/fits/sac", {**BODY, "pen_materials": ["celluloid"]}).body
    assert known["candidates"][0]["why"] != plain
    assert known["candidates"][0]["why"] in sized(bench, **BODY, job=job).text
