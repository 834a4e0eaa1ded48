"""What is worked out with nothing locked, and what becomes of it when something changes."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask, g
from sqlalchemy import select, text

from conftest import Clock
from sparewell.database.engine import Database
from sparewell.edge import unit_of_work
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.reading import reading
from sparewell.edge.scopes import scope
from sparewell.extend.calculation import Run
from sparewell.lots.tables import Lot
from sparewell.work import Due
from support.api import BODY, Api
from support.statements import counted_apart

pytestmark = pytest.mark.differs
Meanwhile = Callable[[Callable[[], Any], int], None]


@pytest.fixture
def meanwhile(monkeypatch: pytest.MonkeyPatch) -> Meanwhile:
    """Let something happen between what is prepared and the lock, so many times."""

    def happens(act: Callable[[], Any], times: int = 1) -> None:
        stop_reading, left = unit_of_work.stop_reading, [times]

        def stop() -> None:
            stop_reading()
            if left[0]:
                left[0] -= 1
                patched = unit_of_work.stop_reading
                monkeypatch.setattr(unit_of_work, "stop_reading", stop_reading)
                somebody = threading.Thread(target=act)
                somebody.start()
                somebody.join()
                monkeypatch.setattr(unit_of_work, "stop_reading", patched)

        monkeypatch.setattr(unit_of_work, "stop_reading", stop)

    return happens


@pytest.fixture
def other(app: Flask, api: Api) -> Api:
    """Somebody else at the same time."""
    return Api(app, api.token)


def _reserve(api: Api, job: str, **said: Any) -> Any:
    return api.post(f"/v1/jobs/{job}/reservations", said)


def test_a_reading_taken_meanwhile_counts(api: Api, other: Api, meanwhile: Meanwhile) -> None:
    """A bag that fitted when it was judged, and is refused by the time it is locked, is refused."""
    lot, job = api.stock()["id"], api.job()
    narrow = {"readings": {"barrel_bore": "7.2 mm"}}
    meanwhile(lambda: other.post("/v1/pens/PEN-0001/readings", narrow), 1)
    refused = _reserve(api, job, lot=lot)
    assert refused.status == 422
    assert refused.body["errors"][0]["pointer"] == "/override"


def test_the_next_best_is_taken_where_the_best_went(
    api: Api, other: Api, meanwhile: Meanwhile
) -> None:
    """Whoever comes second for a piece is given the next one, and not told to try again."""
    first, second = (api.stock(quantity=1)["id"] for _ in range(2))
    job, rival = api.job(), api.job()
    meanwhile(lambda: _reserve(other, rival, lot=first), 1)
    made = _reserve(api, job)
    assert [row["lot"] for row in made.body["reservations"]] == [second]


def test_who_comes_second_for_the_last_piece_is_told_who_has_it(
    api: Api, other: Api, meanwhile: Meanwhile
) -> None:
    """The refusal is of the state there is then: the need is short, and the piece is promised."""
    lot, job, rival = api.stock(quantity=1)["id"], api.job(), api.job()
    meanwhile(lambda: _reserve(other, rival, lot=lot), 1)
    refused = _reserve(api, job)
    assert refused.status == 409
    assert f"its only piece is promised to {rival}" in refused.body["detail"]


@pytest.mark.postgres
@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_a_connection_lost_while_it_is_given_back_takes_nothing_with_it(
    api: Api, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was prepared has been read, so the promise is made over another connection."""
    lot, job = api.stock()["id"], api.job()
    stop_reading, ended = unit_of_work.stop_reading, []

    def stop() -> None:
        if not ended and "sparewell_reading" in g:
            number = g.sparewell_reading.scalar(text("SELECT pg_backend_pid()"))
            with database.engine.connect() as connection:
                connection.execute(text("SELECT pg_terminate_backend(:number)"), {"number": number})
            ended.append(number)
        stop_reading()

    monkeypatch.setattr(unit_of_work, "stop_reading", stop)
    assert _reserve(api, job, lot=lot).status == 201
    assert ended


@pytest.mark.parametrize(
    "change",
    [
        lambda other, job, _lot: other.patch(
            f"/v1/jobs/{job}/needs/1", {"dropped": True, "why": "not needed"}
        ),
        lambda other, job, _lot: other.post(f"/v1/jobs/{job}/cancel"),
        lambda other, job, _lot: other.patch(
            f"/v1/jobs/{job}", {"approval": {"state": "declined", "note": "too dear"}}
        ),
        lambda other, _job, lot: other.patch(
            f"/v1/lots/{lot}", {"measured": {"outside_diameter": "9 mm"}}
        ),
        lambda other, _job, _lot: other.patch(
            "/v1/settings/sac.stretch_refused", {"value": 25, "why": "tried"}
        ),
    ],
    ids=["the need", "the job", "what its owner said", "the bag", "a setting"],
)
def test_what_a_plan_rests_on_is_compared_under_the_lock(
    api: Api, other: Api, meanwhile: Meanwhile, change: Callable[[Api, str, int], Any]
) -> None:
    """Whatever changes meanwhile, the best set is worked out anew and is short now, or refused."""
    lot, job = api.stock(quantity=1)["id"], api.job()
    changed: list[int] = []
    meanwhile(lambda: changed.append(change(other, job, lot).status), 1)
    refused = _reserve(api, job)
    assert changed == [200]
    assert refused.status == 409, refused.text
    assert api.get(f"/v1/lots/{lot}").body["promised"] == 0


def test_what_never_stands_still_is_given_up(api: Api, other: Api, meanwhile: Meanwhile) -> None:
    """After four times 503 says that nothing was done, and later the same request is done."""
    lot, job = api.stock()["id"], api.job()
    prepared: list[int] = []

    def measure() -> None:
        prepared.append(1)
        other.post("/v1/pens/PEN-0001/readings", {"readings": {"barrel_depth": "62 mm"}})

    meanwhile(measure, 100)
    gone = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot}, Idempotency_Key="patient")
    assert (gone.status, gone.headers["Retry-After"], len(prepared)) == (503, "1", 4)
    assert api.get(f"/v1/lots/{lot}").body["promised"] == 0


def test_who_is_outrun_each_time_is_told_so_and_told_the_same_again(
    api: Api, other: Api, meanwhile: Meanwhile
) -> None:
    """The best set is looked for four times; the refusal is kept with its key."""
    for _ in range(6):
        api.stock(quantity=1)
    job = api.job()
    rivals = iter([api.job() for _ in range(6)])
    meanwhile(lambda: _reserve(other, next(rivals)), 4)
    path = f"/v1/jobs/{job}/reservations"
    gone = api.post(path, {}, Idempotency_Key="outrun")
    again = api.post(path, {}, Idempotency_Key="outrun")
    assert "others were faster each time" in gone.body["detail"]
    assert again.headers["Idempotency-Replayed"] == "true"
    assert (gone.status, gone.text) == (again.status, again.text)


def test_the_next_of_a_ruined_piece_is_worked_out_anew_too(
    api: Api, other: Api, meanwhile: Meanwhile
) -> None:
    """Where the next piece went meanwhile, the one after it is promised; the ruined one is gone."""
    lots = [api.stock(quantity=1)["id"] for _ in range(3)]
    job, rival = api.job(), api.job()
    row = _reserve(api, job, lot=lots[0]).body["reservations"][0]["id"]
    meanwhile(lambda: _reserve(other, rival, lot=lots[1]), 1)
    told = api.post(f"/v1/reservations/{row}/spoil", {"reserve_next": True}).body
    assert told["spoiled"] == 1
    assert [each["lot"] for each in told["next"]["reserved"]] == [lots[2]]


def test_a_hold_that_is_over_ends_before_anything_is_worked_out(api: Api, clock: Clock) -> None:
    """The last piece, held too long for one job, is the best set of another."""
    setting = "/v1/settings/stock.hold_lapses_after_hours"
    assert api.patch(setting, {"value": 1, "why": "tried"}).status == 200
    lot, job, late = api.stock(quantity=1)["id"], api.job(), api.job()
    held = _reserve(api, late, lot=lot).body["reservations"][0]["id"]
    clock.now += timedelta(hours=2)
    assert [row["lot"] for row in _reserve(api, job).body["reservations"]] == [lot]
    assert api.get(f"/v1/reservations/{held}").body["state"] == "lapsed"


@pytest.mark.parametrize(("due", "status"), [(6, 201), (100, 503)])
def test_what_is_due_is_no_attempt(
    api: Api, monkeypatch: pytest.MonkeyPatch, due: int, status: int
) -> None:
    """Six things that have to end first keep nobody from reserving; what never ends is given up."""
    lot, job = api.stock()["id"], api.job()
    prepare_for, ended = unit_of_work.prepare_for, []

    def after_others(view: Any, arguments: dict[str, Any]) -> None:
        if len(ended) < due:
            raise Due(lambda _work: ended.append(1))
        prepare_for(view, arguments)

    monkeypatch.setattr(unit_of_work, "prepare_for", after_others)
    assert _reserve(api, job, lot=lot).status == status
    assert len(ended) == min(due, unit_of_work.MOST_DUE)


def test_two_of_the_same_request_at_once_have_one_answer(
    api: Api, other: Api, meanwhile: Meanwhile
) -> None:
    """The first of them answers for both, also where it was prepared twice."""
    lot, job = api.stock()["id"], api.job()
    path, said = f"/v1/jobs/{job}/reservations", {"lot": lot}
    meanwhile(lambda: other.post(path, said, Idempotency_Key="both"), 1)
    second = api.post(path, said, Idempotency_Key="both")
    assert second.headers["Idempotency-Replayed"] == "true"
    assert api.get(f"/v1/lots/{lot}").body["promised"] == 1


def test_a_calculation_under_a_key_locks_nobody_out(api: Api, database: Database) -> None:
    """It is worked out like any other, kept by itself, and its repeat is the first answer."""
    with counted_apart(database) as (_, writing):
        first = api.post("/v1/calculators/sac", BODY, Idempotency_Key="looked")
    again = api.post("/v1/calculators/sac", BODY, Idempotency_Key="looked")
    assert (first.status, len(writing)) == (200, 2)
    assert (again.text, again.headers["Idempotency-Replayed"]) == (first.text, "true")


def test_a_refusal_leaves_nothing_and_is_kept(api: Api, database: Database) -> None:
    """What a view did before it refused is undone; the same answer comes to a repeat."""
    lot, job = api.stock(quantity=1)["id"], api.job()
    _reserve(api, api.job(), lot=lot)
    path = f"/v1/jobs/{job}/reservations"
    refused = api.post(path, {"lot": lot}, Idempotency_Key="late")
    with counted_apart(database) as (_, writing):
        again = api.post(path, {"lot": lot}, Idempotency_Key="late")
    assert (refused.status, refused.text, writing) == (409, again.text, [])


def test_what_a_request_reads_is_of_one_moment(app: Flask, api: Api, other: Api) -> None:
    """A version read last tells of what was read first: no change comes in between."""
    api.stock()
    version = select(Lot.version).where(Lot.id == 1)
    with app.test_request_context(), reading() as session:
        before = session.scalar(version)
        somebody = threading.Thread(target=other.patch, args=("/v1/lots/1", {"note": "soft"}))
        somebody.start()
        somebody.join()
        assert session.scalar(version) == before
    with app.test_request_context(), reading() as session:
        assert session.scalar(version) == before + 1


def test_a_calculator_under_the_lock_would_be_noticed(
    own_app: Flask, api: Api, under_the_lock: list[str]
) -> None:
    """What watches every test for calculators that run while others wait sees one that does."""
    blueprint = Blueprint("slow", __name__)

    @blueprint.route("/v1/slow", methods=["POST"])
    @blueprint.response(200)
    @scope("write")
    def slow() -> str:
        found = work()
        calculator = found.declared.calculators["sac"]
        settings = {name: each.default for name, each in found.declared.settings.items()}
        values = {name: int(float(text.split()[0]) * 1e6) for name, text in BODY.items()}
        Run(found.declared, calculator, values, {}, settings, found.now.date()).envelope()
        return ""

    own_app.register_blueprint(blueprint)
    assert Api(own_app, api.token).post("/v1/slow").status == 200
    assert under_the_lock == ["POST /v1/slow: envelope of sac"]
    under_the_lock.clear()
