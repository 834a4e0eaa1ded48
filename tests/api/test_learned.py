"""What outcomes say over HTTP: by margin, material, glue, bag and months, and against settings."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from conftest import Clock
from sparewell.database.engine import Database
from support.api import Api
from support.statements import counted

NOTHING_YET = {
    "fitted": 0,
    "heard": 0,
    "heard_later": 0,
    "failed": 0,
    "tight": 0,
    "loose": 0,
    "leaked": 0,
    "not_said": 0,
    "share": None,
    "says": "0 fitted, 0 heard of, 0 failed",
}


def fitted(api: Api, lot: int, outcome: str | None = None, **use: Any) -> int:
    """Fit a sac of a lot to a pen of its own, and say how it is; return the reservation."""
    job = api.job()
    made = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot})
    row_id = int(made.body["reservations"][0]["id"])
    assert api.post(f"/v1/reservations/{row_id}/use", use).status == 200
    if outcome:
        told(api, row_id, outcome)
    return row_id


def told(api: Api, row_id: int, outcome: str, **said: Any) -> None:
    """Say how fitted pieces turned out."""
    body = {"outcome": outcome, **said}
    assert api.post(f"/v1/reservations/{row_id}/outcomes", body).status == 201


def learned(api: Api) -> Any:
    """Return what is learned."""
    reply = api.get("/v1/learned")
    assert reply.status == 200, reply.text
    return reply.body


def tally_of(groups: Any, **wanted: Any) -> Any:
    """Return the tally of the one group that has these members."""
    (found,) = [
        each for each in groups if all(each[name] == value for name, value in wanted.items())
    ]
    return found["tally"]


def test_a_workshop_without_pieces_has_learned_nothing(api: Api) -> None:
    """Nothing is counted, nothing is asked, and the notes say what would be counted."""
    body = learned(api)
    assert body["fitted"] == NOTHING_YET
    for name in ("margins", "materials", "glues", "lots", "months", "questions"):
        assert body[name] == []
    assert len(body["notes"]) == 3
    assert [each["name"] for each in body["settings"]] == ["learned.expected_failures"]


@pytest.mark.differs
def test_outcomes_stand_beside_their_margins(api: Api) -> None:
    """Three fitted, two heard of, one leaked: in its band, by material, by glue and in all."""
    lot = api.stock()["id"]
    fitted(api, lot, "good", glue="shellac")
    fitted(api, lot, "leaked", glue="rubber cement")
    fitted(api, lot)
    body = learned(api)
    assert body["fitted"]["says"] == "3 fitted, 2 heard of, 1 failed; 1 unknown"
    assert tally_of(body["materials"], kind="sac", material="latex") == body["fitted"]
    assert tally_of(body["glues"], glue="rubber cement")["leaked"] == 1
    assert tally_of(body["glues"], glue="shellac")["failed"] == 0
    (stretch,) = [each for each in body["margins"] if each["margin"] == "stretch_percent"]
    assert (stretch["calculator"], stretch["of"]) == ("sac", {"material": "latex"})
    (band,) = [band for band in stretch["bands"] if band["tally"]["fitted"]]
    assert (band["low_setting"], band["high_setting"]) == (
        "sac.stretch_good",
        "sac.stretch_acceptable",
    )
    assert (band["low"], band["high"], band["expected"]) == (20.0, 30.0, True)
    assert band["tally"] == body["fitted"]
    (barrel,) = [each for each in body["margins"] if each["margin"] == "barrel"]
    assert (barrel["is_length"], len(barrel["bands"])) == (True, 1)
    assert "sac.stretch_good" in {each["name"] for each in body["settings"]}


def test_the_latest_word_counts(api: Api) -> None:
    """What was good at the close and leaked later has failed; corrected, it has not."""
    row_id = fitted(api, api.stock()["id"], "good")
    told(api, row_id, "leaked")
    assert learned(api)["fitted"]["failed"] == 1
    told(api, row_id, "good", note="the other pen was meant")
    assert learned(api)["fitted"]["failed"] == 0


@pytest.mark.differs
def test_a_bag_is_followed_wherever_its_pieces_went(api: Api) -> None:
    """One leaked of those moved to other drawers: sister pens are named, and what was ruined."""
    lot = api.stock(label="15")["id"]
    api.post("/v1/drawers", {"code": "B1"})
    moved = api.post(f"/v1/lots/{lot}/move", {"drawer": "B1", "quantity": 5}).body["id"]
    further = api.post(f"/v1/lots/{moved}/move", {"drawer": "A3", "quantity": 2}).body["id"]
    other = api.stock()["id"]
    fitted(api, lot, "good")
    fitted(api, moved)
    fitted(api, further, "leaked")
    fitted(api, other, "good")
    ruined = api.post(f"/v1/jobs/{api.job()}/reservations", {"lot": moved, "quantity": 2})
    api.post(f"/v1/reservations/{ruined.body['reservations'][0]['id']}/spoil")
    (bag,) = learned(api)["lots"]
    assert (bag["lot"], bag["part"], bag["label"]) == (lot, "SAC-15-STR", "15")
    assert bag["tally"]["says"] == "3 fitted, 2 heard of, 1 failed; 1 unknown"
    assert (bag["ruined"], bag["sisters"]) == (2, ["PEN-0002", "PEN-0001"])
    assert bag["sisters_in_all"] == 2


def test_a_bag_of_which_pieces_were_only_ruined_is_named(api: Api) -> None:
    """Pieces ruined at fitting tell of a bag before anything is heard from an owner."""
    lot = api.stock()["id"]
    made = api.post(f"/v1/jobs/{api.job()}/reservations", {"lot": lot, "quantity": 3})
    api.post(f"/v1/reservations/{made.body['reservations'][0]['id']}/spoil")
    (bag,) = learned(api)["lots"]
    assert (bag["lot"], bag["ruined"], bag["tally"]) == (lot, 3, NOTHING_YET)


def test_months_are_counted_from_the_fitting(api: Api, clock: Clock) -> None:
    """A leak noted after a year, and found after five months, counts in its fifth month."""
    row_id = fitted(api, api.stock()["id"])
    day = (clock.now + timedelta(days=155)).date()
    clock.now += timedelta(days=365)
    told(api, row_id, "leaked", happened_on=f"{day}")
    body = learned(api)
    (kind,) = body["months"]
    failed = {(span["since"], span["until"]): span["failed"] for span in kind["spans"]}
    assert failed == {
        **dict.fromkeys([(0, 1), (1, 3), (6, 12), (12, 24), (24, 60), (60, None)], 0),
        (3, 6): 1,
    }
    assert body["fitted"]["heard_later"] == 1


@pytest.mark.differs
def test_a_question_is_the_reason_for_a_change(api: Api) -> None:
    """Ten of thirty leaked within what a setting calls good: it is asked, and changed for that."""
    lot = api.stock(quantity=40)["id"]
    for number in range(30):
        fitted(api, lot, "leaked" if number % 3 == 0 else "good")
    (asked,) = learned(api)["questions"]
    assert asked["setting"] == "sac.stretch_acceptable"
    assert (asked["value"], asked["unit"], asked["margin"]) == (30.0, "%", "stretch_percent")
    assert asked["tally"]["share"] == {"observed": 33.3, "low": 19.2, "high": 51.2}
    changed = api.patch("/v1/settings/sac.stretch_acceptable", {"value": 25, "why": asked["says"]})
    assert (changed.status, changed.body["why"]) == (200, asked["says"])
    assert learned(api)["questions"] == []


def test_what_was_promised_before_margins_were_kept_is_unknown(
    api: Api, database: Database
) -> None:
    """Without margins it is counted in all and by material, and stands in no band."""
    fitted(api, api.stock()["id"], "good")
    with database.writer.begin() as connection:
        connection.exec_driver_sql("UPDATE reservation SET calculator = NULL, margins = '{}'")
    body = learned(api)
    assert (body["margins"], body["fitted"]["heard"]) == ([], 1)


def test_however_much_was_fitted_it_takes_as_many_statements(api: Api, database: Database) -> None:
    """Two fittings take as many as twelve from six bags, and that is at most seven."""
    fitted(api, api.stock()["id"], "leaked")
    fitted(api, api.stock()["id"])
    with counted(database) as few:
        learned(api)
    for _ in range(5):
        lot = api.stock()["id"]
        fitted(api, lot, "leaked")
        fitted(api, lot)
    with counted(database) as many:
        learned(api)
    assert len(few) == len(many) <= 7
