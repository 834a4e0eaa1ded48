"""All open jobs at once: no piece is counted on twice, and the whole evening is promised in one."""

from __future__ import annotations

import time
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy.orm import Session

from conftest import NOW, Clock
from sparewell.database.engine import Database
from sparewell.tonight.tables import EveningState, KeptEvening
from support.api import Api
from support.moving import P16, P17, sac
from support.statements import counted
from support.supply import PART, offer, part, supplier

MOST_STATEMENTS = 40


def _tonight(api: Api, query: str = "") -> Mapping[str, Any]:
    reply = api.get(f"/v1/tonight{query}")
    assert reply.status == 200, reply.text
    return dict(reply.body)


def _numbers(rows: Any) -> list[str]:
    return [row["job"] for row in rows]


def test_the_last_piece_finishes_one_pen_and_is_short_for_the_other(api: Api) -> None:
    """Two jobs want the last sac: one can be finished, the other says who has it."""
    api.stock(quantity=1)
    first, second = api.job(), api.job()
    found = _tonight(api)
    (done,) = found["finishable"]
    (waiting,) = found["waiting_for_part"]
    assert {done["job"], waiting["job"]} == {first, second}
    assert [take["quantity"] for take in done["takes"]] == [1]
    assert waiting["short"][0]["wanted_by"] == [done["job"]]


def test_the_evening_is_walked_along_the_drawers(api: Api) -> None:
    """What is fetched stands by place, for which job, promised pieces with those to be taken."""
    lot = api.stock()["id"]
    first, second = api.job(), api.job()
    api.post(f"/v1/jobs/{first}/reservations")
    (stop,) = _tonight(api)["walk"]
    assert stop == {
        "place": "A3",
        "pieces": [{"job": job, "lot": lot, "quantity": 1} for job in (first, second)],
    }


def test_a_plan_is_promised_as_it_was_shown(api: Api) -> None:
    """The plan of the evening, posted, promises each take of it, all for their needs."""
    lot = api.stock()["id"]
    jobs = [api.job(), api.job()]
    found = _tonight(api)
    made = api.post("/v1/tonight/reservations", {"plan": found["plan"]})
    assert made.status == 201, made.text
    assert made.body["jobs"] == jobs
    assert [row["lot"] for row in made.body["reservations"]] == [lot, lot]
    assert [row["job"] for row in made.body["reservations"]] == jobs


def test_a_plan_that_no_longer_holds_promises_nothing_and_says_why(api: Api) -> None:
    """When a bag was counted to less and a pen was measured anew, both are named."""
    lot = api.stock(quantity=2)["id"]
    api.job()
    job = api.job()
    plan = _tonight(api)["plan"]
    api.post(f"/v1/lots/{lot}/count", {"counted": 1})
    pen = api.get(f"/v1/jobs/{job}").body["pen"]
    api.post(f"/v1/pens/{pen}/readings", {"readings": {"barrel_bore": "8.1 mm"}})
    refused = api.post("/v1/tonight/reservations", {"plan": plan})
    assert refused.status == 409
    told = [error["detail"] for error in refused.body["errors"]]
    assert told == [f"{pen} has changed", f"2 of bag {lot} wanted, and 1 available"]
    assert api.get("/v1/reservations").body["reservations"] == []


def test_a_plan_is_promised_once(api: Api) -> None:
    """Posted again, or after its job was served otherwise, it is refused, and says what changed."""
    api.stock()
    job = api.job()
    plan, same = _tonight(api)["plan"], _tonight(api)["plan"]
    assert api.post("/v1/tonight/reservations", {"plan": plan}).status == 201
    for each in (plan, same):
        refused = api.post("/v1/tonight/reservations", {"plan": each})
        assert refused.status == 409
        assert f"what {job} is promised has changed" in refused.body["detail"]
    nothing = api.post("/v1/tonight/reservations", {"plan": _tonight(api)["plan"]})
    assert nothing.status == 409
    assert "promises nothing" in nothing.body["detail"]


def test_a_plan_of_a_job_says_what_would_move(api: Api) -> None:
    """Its one sac is promised to a pen that could have another: short, and not for long."""
    wide, held, fifteen, sixteen = _one_that_could_move(api)
    narrow = api.job()
    plan = api.get(f"/v1/jobs/{narrow}/plan").body
    assert not plan["complete"]
    assert plan["would_move"] == [
        {"reservation": held, "job": wide, "lot": fifteen, "to_lot": sixteen}
    ]
    api.patch(f"/v1/reservations/{held}", {"pinned": True})
    assert api.get(f"/v1/jobs/{narrow}/plan").body["would_move"] == []


def test_a_plan_is_kept_for_a_day(api: Api, clock: Clock) -> None:
    """A day later the plan is not known any more."""
    api.stock()
    api.job()
    plan = _tonight(api)["plan"]
    clock.now += timedelta(hours=25)
    refused = api.post("/v1/tonight/reservations", {"plan": plan})
    assert refused.status == 404
    assert "older than a day" in refused.body["detail"]


def test_named_jobs_are_all_finished_or_nothing_is_promised(api: Api) -> None:
    """One of two named jobs has no piece: neither is promised anything, and it is named."""
    api.stock(quantity=1)
    jobs = [api.job(), api.job()]
    refused = api.post("/v1/tonight/reservations", {"jobs": jobs})
    assert refused.status == 409
    assert "waits for part: sac lacks 1" in refused.body["detail"]
    made = api.post("/v1/tonight/reservations", {"jobs": jobs[1:]})
    assert made.status == 201
    assert [row["job"] for row in made.body["reservations"]] == jobs[1:]


def _one_that_could_move(api: Api) -> tuple[str, int, int, int]:
    """Let a wide pen have the only 15, then get a 16, which fits it better."""
    fifteen = sac(api, 15)
    wide = api.job(**P16)
    (held,) = api.post(f"/v1/jobs/{wide}/reservations").body["reservations"]
    assert held["lot"] == fifteen
    return wide, held["id"], fifteen, sac(api, 16)


def test_a_promised_piece_moves_where_that_finishes_a_pen(api: Api) -> None:
    """The wide pen takes the 16 that came, so that the narrow one can have its 15."""
    wide, held, fifteen, sixteen = _one_that_could_move(api)
    narrow = api.job()
    found = _tonight(api)
    assert _numbers(found["finishable"]) == [wide, narrow]
    (take,) = found["finishable"][1]["takes"]
    assert take["lot"] == fifteen
    assert [(row["reservation"], row["to_lot"]) for row in take["settles"]] == [(held, sixteen)]
    made = api.post("/v1/tonight/reservations", {"plan": found["plan"]})
    assert made.status == 201, made.text
    assert [row["lot"] for row in made.body["reservations"]] == [fifteen]
    assert [(row["reservation"], row["to_lot"]) for row in made.body["moved"]] == [(held, sixteen)]
    assert api.get(f"/v1/reservations/{held}").body["state"] == "settled"
    for job in (wide, narrow):
        told = api.get(f"/v1/jobs/{job}").body["moved"]
        assert [(each["reservation"], each["moved_for"]) for each in told] == [(held, narrow)]


def test_no_promise_moves_to_what_fits_its_pen_less_well(api: Api) -> None:
    """The wide pen has its 16, and a 15 would do: it keeps the 16, though a wider pen wants it."""
    sixteen = sac(api, 16)
    wide = api.job(**P16)
    api.post(f"/v1/jobs/{wide}/reservations")
    sac(api, 15)
    wider = api.job(**P17)
    found = _tonight(api)
    assert _numbers(found["finishable"]) == [wide]
    (short,) = found["waiting_for_part"][0]["short"]
    assert (found["waiting_for_part"][0]["job"], short["wanted_by"]) == (wider, [wide])
    assert found["walk"][0]["pieces"][0]["lot"] == sixteen


def test_pens_alike_share_the_bags_that_there_are(api: Api) -> None:
    """Three pens alike and three bags of one sac: each has one of them."""
    bags = {api.stock(quantity=1)["id"] for _ in range(3)}
    jobs = [api.job() for _ in range(3)]
    found = _tonight(api)
    assert _numbers(found["finishable"]) == jobs
    assert {each["takes"][0]["lot"] for each in found["finishable"]} == bags


@pytest.mark.parametrize("way", ["pinned", "fetched", "asked"])
def test_what_must_stay_does_not_move(api: Api, way: str) -> None:
    """A promise that is pinned or in the tray stays, and so does every one where none may move."""
    wide, held, *_ = _one_that_could_move(api)
    narrow = api.job()
    if way == "pinned":
        api.patch(f"/v1/reservations/{held}", {"pinned": True})
    elif way == "fetched":
        api.post(f"/v1/reservations/{held}/fetch")
    found = _tonight(api, "?move=false" if way == "asked" else "")
    assert _numbers(found["finishable"]) == [wide]
    assert _numbers(found["waiting_for_part"]) == [narrow]


def test_a_promise_that_was_pinned_since_is_not_moved(api: Api) -> None:
    """The plan moved it; by the time it is posted a person has pinned it: nothing is promised."""
    _, held, *_ = _one_that_could_move(api)
    api.job()
    plan = _tonight(api)["plan"]
    api.patch(f"/v1/reservations/{held}", {"pinned": True})
    refused = api.post("/v1/tonight/reservations", {"plan": plan})
    assert refused.status == 409
    assert f"reservation {held} is pinned" in refused.body["detail"]
    assert len(api.get("/v1/reservations").body["reservations"]) == 1


def test_the_last_piece_is_complete_for_one_job_only(api: Api) -> None:
    """Both plans name the other job, and the piece is counted for the older one."""
    api.stock(quantity=1)
    first, second = api.job(), api.job()
    plans = {job: api.get(f"/v1/jobs/{job}/plan").body for job in (first, second)}
    assert {job: plan["complete"] for job, plan in plans.items()} == {first: True, second: False}
    assert plans[first]["needs"][0]["wanted_by"] == [second]
    assert plans[second]["needs"][0]["wanted_by"] == [first]
    assert "counted for those that come first" in str(plans[second]["needs"][0]["warnings"])


def test_a_pen_promised_for_a_day_comes_first(api: Api) -> None:
    """The newer job was promised for a day: the last piece is counted for it, here and there."""
    api.stock(quantity=1)
    plain, dated = api.job(), api.job()
    api.patch(f"/v1/jobs/{dated}", {"promised_on": "2026-12-24"})
    assert _numbers(_tonight(api)["finishable"]) == [dated]
    assert _numbers(_tonight(api, "?weight=count")["finishable"]) == [dated]
    assert api.get(f"/v1/jobs/{dated}/plan").body["complete"]
    assert not api.get(f"/v1/jobs/{plain}/plan").body["complete"]


def test_each_waits_in_its_own_list(api: Api) -> None:
    """An estimate that nobody approved, and a reading that nobody took, keep a pen waiting."""
    api.stock()
    asked = api.job()
    api.patch(f"/v1/jobs/{asked}", {"estimate": "40.00"})
    pen = {"called": "unmeasured", "filling_system": "lever", "materials": [], "readings": {}}
    unread = api.post("/v1/jobs", {"pen": api.post("/v1/pens", pen).body["number"]}).body["number"]
    found = _tonight(api)
    assert _numbers(found["waiting_for_owner"]) == [asked]
    (waiting,) = found["waiting_for_reading"]
    assert waiting["job"] == unread
    assert "nipple_diameter" in [each["name"] for each in waiting["waits"][0]["readings"]]
    assert waiting["waits"][0]["decides"].startswith("which sac fits")


def test_what_was_measured_before_the_last_repair_is_measured_again(api: Api, clock: Clock) -> None:
    """A pen comes back after its repair: its old readings do not size the next sac."""
    api.stock()
    job = api.job()
    pen = api.get(f"/v1/jobs/{job}").body["pen"]
    clock.now += timedelta(days=1)
    api.post(f"/v1/jobs/{job}/close", {"anyway": "given back as it was"})
    clock.now += timedelta(days=400)
    again = api.post("/v1/jobs", {"pen": pen}).body["number"]
    assert _numbers(_tonight(api)["waiting_for_reading"]) == [again]


def test_the_evening_has_so_many_minutes(api: Api) -> None:
    """What is glued has to set, and what no time is left for lacks nothing else."""
    api.stock()
    first, second = api.job(), api.job()
    whole = _tonight(api)["finishable"][0]
    assert whole["waits_for"] == "shellac to set"
    assert whole["ready_at"] > "2026"
    minutes = whole["hands_on_minutes"]
    found = _tonight(api, f"?minutes={minutes + 5}")
    assert _numbers(found["finishable"]) == [first]
    assert _numbers(found["not_tonight"]) == [second]


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?weight=beauty", "must be count, promised or value"),
        ("?minutes=-5", "must be a whole number of minutes"),
        ("?move=all", "must be mine, any or false"),
    ],
)
def test_what_makes_no_sense_is_refused(api: Api, query: str, said: str) -> None:
    """An address that asks what there is not is told what there is."""
    refused = api.get(f"/v1/tonight{query}")
    assert refused.status == 422
    assert said in refused.text


def test_a_long_evening_is_worked_out_beside(api: Api) -> None:
    """It is answered at once with a place to look at; the plan that is found there is promised."""
    lot = api.stock()["id"]
    job = api.job()
    begun = api.post("/v1/evenings")
    assert begun.status == 202, begun.text
    assert begun.headers["Location"] == f"/v1/evenings/{begun.body['plan']}"
    for _ in range(200):
        found = api.get(begun.headers["Location"]).body
        if found["state"] != "working":
            break
        time.sleep(0.05)
    assert (found["state"], found["why"]) == ("ready", "")
    assert _numbers(found["tonight"]["finishable"]) == [job]
    assert found["tonight"]["plan"] == begun.body["plan"]
    made = api.post("/v1/tonight/reservations", {"plan": begun.body["plan"]})
    assert [row["lot"] for row in made.body["reservations"]] == [lot]


def test_an_evening_whose_process_ended_has_failed(api: Api, database: Database) -> None:
    """What was begun long ago and is not ready will not be: it says so, and is not promised."""
    with Session(database.writer) as session:
        old = KeptEvening(
            state=EveningState.WORKING,
            made_at=NOW - timedelta(minutes=11),
            actor="a script",
            person=None,
            shown={},
            promises={},
        )
        session.add(old)
        session.commit()
        plan = old.id
    found = api.get(f"/v1/evenings/{plan}").body
    assert found["state"] == "failed"
    assert "the server ended" in found["why"]
    assert api.post("/v1/tonight/reservations", {"plan": plan}).status == 409


def test_more_jobs_than_are_waited_for_are_sent_to_the_long_way(
    api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody's request hangs: beyond a number of jobs the answer names the other address."""
    monkeypatch.setattr("sparewell.tonight.evening.MOST_WAITED_FOR", 1)
    api.job()
    assert api.get("/v1/tonight").status == 200
    api.job()
    refused = api.get("/v1/tonight")
    assert refused.status == 409
    assert "POST /v1/evenings" in refused.body["detail"]


def test_the_least_order_says_what_it_finishes(api: Api) -> None:
    """Two pens lack a sac each: one pack finishes both, and the ladder says for how much."""
    part(api, PART)
    offer(api, supplier(api))
    jobs = [api.job(), api.job()]
    found = _tonight(api)
    assert _numbers(found["waiting_for_part"]) == jobs
    assert found["to_order"] == [{"part": PART, "quantity": 10, "frees": jobs, "cost": "3.00"}]
    order = found["order"]
    assert (order["total"], order["proven"]) == ("7.50", True)
    assert order["ladder"] == [{"cost": "7.50", "jobs": jobs, "total": "7.50"}]
    without = _tonight(api, "?orders=false")
    assert (without["order"], without["to_order"]) == (None, [])


def test_what_nobody_sells_is_asked_for(api: Api) -> None:
    """A part that is in no catalogue and at no supplier's stands apart, in words for a seller."""
    job = api.job()
    found = _tonight(api)
    assert found["to_order"] == []
    (unsold,) = found["order"]["unsold"]
    assert (unsold["job"], unsold["quantity"]) == (job, 1)
    assert "sac" in unsold["ask_for"][0]


def test_an_evening_takes_as_many_statements_for_many_jobs_as_for_few(
    api: Api, database: Database
) -> None:
    """Three jobs and twelve are read in the same statements, whatever they lack."""

    def statements(jobs: int) -> int:
        for _ in range(jobs):
            api.job()
        with counted(database) as sent:
            _tonight(api)
        return len(sent)

    api.stock(quantity=2)
    part(api, "SAC-16")
    offer(api, supplier(api), "SAC-16")
    few = statements(3)
    assert statements(9) <= few
    assert few <= MOST_STATEMENTS


def test_a_hold_that_is_over_is_free(api: Api, clock: Clock) -> None:
    """A script's hold ends by itself: its piece finishes another pen, and the hold has lapsed."""
    api.stock(quantity=1)
    script, other = api.job(), api.job()
    held = api.post(f"/v1/jobs/{script}/reservations", {"expires_in": 5}).body["reservations"][0]
    api.patch(f"/v1/jobs/{other}", {"promised_on": "2026-12-24"})
    assert _numbers(_tonight(api, "?move=false")["finishable"]) == [script]
    clock.now += timedelta(minutes=6)
    assert _numbers(_tonight(api, "?move=false")["finishable"]) == [other]
    assert api.get(f"/v1/reservations/{held['id']}").body["state"] == "lapsed"


@pytest.mark.differs
def test_a_need_that_is_half_met_wants_the_rest(api: Api) -> None:
    """One of two is fitted: the evening takes one more, on both databases."""
    lot = api.stock()["id"]
    job = api.job()
    need = api.get(f"/v1/jobs/{job}").body["needs"][0]["id"]
    api.patch(f"/v1/jobs/{job}/needs/{need}", {"quantity": 2})
    body = {"lot": lot, "quantity": 1, "need": need}
    held = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"][0]
    assert api.post(f"/v1/reservations/{held['id']}/use").status == 200
    (found,) = _tonight(api)["finishable"]
    assert [(take["need"], take["quantity"]) for take in found["takes"]] == [(need, 1)]
    assert api.post("/v1/tonight/reservations").status == 201
