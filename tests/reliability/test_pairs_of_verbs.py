"""Every two verbs on one thing, met on PostgreSQL: the second comes while the first is uncommitted.

Whatever the two are answered must be what they would be answered one after the other, in one order
or the other. On SQLite writers queue, so that there is nothing to race.

| verbs | raced here, or why not |
| --- | --- |
| on a pen and its job: open, to donor, retire, read, close, cancel, promise | all ordered pairs |
| on a lot: count, move, promise, discard | all ordered pairs |
| on a promise: fetch, use, ruin, release, and the cancelling of its job | all ordered pairs |
| on a promise that may move: let it, for either of two jobs, take the piece that it | all ordered |
| would move to, fetch, release, pin, and the cancelling of its job | pairs |
| on pieces noted as ruined: undo, reserve anew, cancel the job | all ordered pairs |
| on a donor: strip, add a component, promise a piece in it | all ordered pairs |
| on an order and its supplier: send, cancel, order, retire | all ordered pairs |
| on an order that was sent: put a parcel away, cancel | all ordered pairs |
| on a template: retire, change, give it to a pen | all ordered pairs |
| timers, photographs, steps, needs | not here: each locks its job or its own row first, and |
| | nothing on another table depends on the state that it changes |
| undo of other acts, cut, punch, put back | not here: each locks its lots, in the order of ids, |
| | as count and discard do, and the random race sends them by the thousand |
| notes of anything | not here: two changes of one row are told apart by its tag (412) |
| making a pen, a donor, a supplier | nobody else can name it before it is committed |
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures import wait as wait_for
from itertools import count, product
from typing import Any

import pytest
from sqlalchemy import text

from sparewell.database import faults
from sparewell.database.engine import Database
from support.api import Api
from support.supply import offer, supplier

pytestmark = pytest.mark.rest

PATIENCE_SECONDS = 10.0
POLL_SECONDS = 0.02
ON_POSTGRESQL = pytest.mark.parametrize(
    "database_url", [pytest.param("postgresql", marks=pytest.mark.postgres)], indirect=True
)
WAITERS = text(
    "SELECT count(*) FROM pg_stat_activity "
    "WHERE datname = current_database() AND wait_event_type = 'Lock'"
)
NEED = {"kind": "sac", "seals_where": "on the nipple", "calculator": "sac"}
_numbers = count(1)
Verb = Callable[[Api], int]
Thing = dict[str, Any]


def posting(path: str, body: Any = None) -> Callable[[Api, Thing], Verb]:
    """Return what prepares a POST on a thing."""

    def prepare(_api: Api, thing: Thing) -> Verb:
        sent = {
            name: thing[value[1:]] if str(value)[:1] == "=" else value
            for name, value in (body or {}).items()
        }
        return lambda api: api.post(path.format(**thing), sent).status

    return prepare


def patching(path: str, body: Any) -> Callable[[Api, Thing], Verb]:
    """Return what prepares a PATCH on a thing, with the tag that it has by then."""

    def prepare(api: Api, thing: Thing) -> Verb:
        tag = api.get(path.format(**thing)).headers["ETag"]
        return lambda api: api.patch(path.format(**thing), body, If_Match=tag).status

    return prepare


def a_pen(api: Api) -> Thing:
    """A pen without a job, and another one's job."""
    lot = api.stock()["id"]
    return {"pen": api.pen(), "lot": lot}


def a_pen_with_a_job(api: Api) -> Thing:
    """A pen with an open job."""
    thing = a_pen(api)
    job = api.post("/v1/jobs", {"pen": thing["pen"]}).body["number"]
    return thing | {"job": job}


def a_lot(api: Api) -> Thing:
    """A bag of ten and a job that may want all of them."""
    api.post("/v1/drawers", {"code": "B1"})
    return {"lot": api.stock()["id"], "job": api.job()}


def a_donor(api: Api) -> Thing:
    """A donor with one component."""
    api.stock()
    made = api.post("/v1/donors", {"called": "donor", "components": [{"kind": "nib"}]})
    assert made.status == 201, made.text
    nib = made.body["components"][0]["lot"]
    return {"donor": made.body["number"], "lots": [nib], "nib": nib, "job": api.job()}


def a_promise(api: Api) -> Thing:
    """A job with one piece promised to it."""
    lot, job = api.stock(2)["id"], api.job()
    (row,) = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot}).body["reservations"]
    return {"job": job, "reservation": row["id"], "lot": lot}


def a_promise_that_may_move(api: Api) -> Thing:
    """A job with a piece that nobody named, and one bag of another, where it could move to."""
    for lot in api.get("/v1/lots?available_min=1&limit=500").body["lots"]:
        api.post(f"/v1/lots/{lot['id']}/discard", {"quantity": lot["available"]})
    lot, job = api.stock(1)["id"], api.job()
    (row,) = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    jobs = {"job": job, "asker": api.job(), "third": api.job()}
    return {"reservation": row["id"], "lot": lot, "other": api.stock(1)["id"], **jobs}


def a_ruin(api: Api) -> Thing:
    """A job whose piece was noted as ruined, and another piece in the bag."""
    thing = a_promise(api)
    assert api.post(f"/v1/reservations/{thing['reservation']}/spoil").status == 200
    lines = api.get(f"/v1/movements?lot={thing['lot']}&verb=spoiled").body["movements"]
    return thing | {"group": lines[0]["group"]}


def an_order(api: Api) -> Thing:
    """A draft of an order."""
    api.stock()
    sold_by = supplier(api, f"The sac people {next(_numbers)}")
    lines = [{"offer": offer(api, sold_by), "packs": 2}]
    made = api.post("/v1/orders", {"supplier": sold_by, "lines": lines})
    assert made.status == 201, made.text
    return {"supplier": sold_by, "order": made.body["number"], "lines": lines}


def a_sent_order(api: Api) -> Thing:
    """An order that was sent, and the whole parcel that is to come."""
    thing = an_order(api)
    sent = api.post(f"/v1/orders/{thing['order']}/send")
    assert sent.status == 200, sent.text
    bag = {"line": sent.body["lines"][0]["id"], "drawer": "A3", "quantity": 20}
    return thing | {"parcel": [bag]}


def a_template(api: Api) -> Thing:
    """A filling system of the workshop's own."""
    name = f"own_{next(_numbers)}"
    document = {"name": name, "title": "Own", "needs": [NEED]}
    made = api.post("/v1/filling-systems", document)
    assert made.status == 201, made.text
    return {"name": name}


GROUPS: dict[str, tuple[Callable[[Api], Thing], dict[str, Callable[[Api, Thing], Verb]]]] = {
    "pen": (
        a_pen,
        {
            "open": posting("/v1/jobs", {"pen": "=pen"}),
            "to donor": posting("/v1/pens/{pen}/to-donor"),
            "retire": patching("/v1/pens/{pen}", {"retired": True}),
            "read": posting("/v1/pens/{pen}/readings", {"readings": {"barrel_bore": "8.1 mm"}}),
        },
    ),
    "job": (
        a_pen_with_a_job,
        {
            "to donor": posting("/v1/pens/{pen}/to-donor"),
            "promise": posting("/v1/jobs/{job}/reservations", {"lot": "=lot", "quantity": 1}),
            "close": posting("/v1/jobs/{job}/close", {"anyway": "a trial"}),
            "cancel": posting("/v1/jobs/{job}/cancel"),
        },
    ),
    "lot": (
        a_lot,
        {
            "count": posting("/v1/lots/{lot}/count", {"counted": 4}),
            "move": posting("/v1/lots/{lot}/move", {"drawer": "B1"}),
            "promise": posting("/v1/jobs/{job}/reservations", {"lot": "=lot", "quantity": 6}),
            "discard": posting("/v1/lots/{lot}/discard", {"quantity": 6, "note": "perished"}),
        },
    ),
    "donor": (
        a_donor,
        {
            "strip": posting("/v1/donors/{donor}/strip", {"lots": "=lots", "drawer": "A3"}),
            "add": posting("/v1/donors/{donor}/components", {"components": [{"kind": "cap"}]}),
            "promise": posting("/v1/jobs/{job}/reservations", {"lot": "=nib", "quantity": 1}),
        },
    ),
    "promise": (
        a_promise,
        {
            **{
                verb: posting(f"/v1/reservations/{{reservation}}/{verb}")
                for verb in ("fetch", "use", "spoil", "release")
            },
            "cancel": posting("/v1/jobs/{job}/cancel"),
        },
    ),
    "moving": (
        a_promise_that_may_move,
        {
            "make room": posting("/v1/jobs/{asker}/reservations", {"lot": "=lot"}),
            "make other room": posting("/v1/jobs/{third}/reservations", {"lot": "=lot"}),
            "take": posting("/v1/jobs/{third}/reservations", {"lot": "=other", "move": False}),
            "fetch": posting("/v1/reservations/{reservation}/fetch"),
            "release": posting("/v1/reservations/{reservation}/release"),
            "pin": patching("/v1/reservations/{reservation}", {"pinned": True}),
            "cancel": posting("/v1/jobs/{job}/cancel"),
        },
    ),
    "ruin": (
        a_ruin,
        {
            "undo": posting("/v1/movements/{group}/undo"),
            "reserve": posting("/v1/jobs/{job}/reservations"),
            "cancel": posting("/v1/jobs/{job}/cancel"),
        },
    ),
    "order": (
        an_order,
        {
            "send": posting("/v1/orders/{order}/send"),
            "cancel": posting("/v1/orders/{order}/cancel", {"why": "too late"}),
            "order": posting("/v1/orders", {"supplier": "=supplier", "lines": "=lines"}),
            "retire": patching("/v1/suppliers/{supplier}", {"retired": True}),
        },
    ),
    "sent order": (
        a_sent_order,
        {
            "receive": posting("/v1/orders/{order}/parcels", {"lines": "=parcel"}),
            "cancel": posting("/v1/orders/{order}/cancel", {"why": "too late"}),
        },
    ),
    "template": (
        a_template,
        {
            "retire": patching("/v1/filling-systems/{name}", {"retired": True}),
            "change": patching("/v1/filling-systems/{name}", {"title": "Other"}),
            "pen": posting("/v1/pens", {"called": "a pen", "filling_system": "=name"}),
        },
    ),
}
# A pen that names a retired template names none that there is: 422.
ALLOWED = {"template": {422}}
PAIRS = [
    (group, first, second)
    for group, (_, verbs) in GROUPS.items()
    for first, second in product(verbs, verbs)
]


@pytest.fixture(autouse=True)
def unarmed() -> Iterator[None]:
    """Nothing stays armed."""
    yield
    faults.disarm()


def in_turn(api: Api, group: str, first: str, second: str) -> tuple[int, int]:
    """Return what two verbs are answered one after the other."""
    make, verbs = GROUPS[group]
    thing = make(api)
    acts = [verbs[name](api, thing) for name in (first, second)]
    before, after = (act(api) for act in acts)
    return before, after


def raced(database: Database, api: Api, group: str, first: str, second: str) -> tuple[int, int]:
    """Return what they are answered when the second comes before the first is committed."""
    make, verbs = GROUPS[group]
    thing = make(api)
    acts = [verbs[name](api, thing) for name in (first, second)]
    reached, over = threading.Event(), threading.Event()

    def hold() -> None:
        faults.disarm()
        reached.set()
        over.wait(PATIENCE_SECONDS)

    with ThreadPoolExecutor(2) as pool:
        faults.arm(faults.BEFORE_COMMIT, hold)
        earlier = pool.submit(acts[0], Api(api.app, api.token))
        wait_for([earlier], POLL_SECONDS)
        while not (reached.wait(POLL_SECONDS) or earlier.done()):
            pass
        faults.disarm()
        later = pool.submit(acts[1], Api(api.app, api.token))
        with database.engine.connect() as connection:
            while not later.done() and not connection.scalar(WAITERS):
                wait_for([later], POLL_SECONDS)
                connection.rollback()
        over.set()
        return earlier.result(PATIENCE_SECONDS), later.result(PATIENCE_SECONDS)


@ON_POSTGRESQL
@pytest.mark.parametrize(("group", "first", "second"), PAIRS)
def test_two_verbs_are_answered_as_if_in_turn(
    database: Database, api: Api, group: str, first: str, second: str
) -> None:
    """No two verbs that meet are both acknowledged where one of them forbids the other."""
    one = in_turn(api, group, first, second)
    other = in_turn(api, group, second, first)[::-1]
    assert not {400, 404, 422} & {*one, *other} - ALLOWED.get(group, set()), (one, other)
    assert raced(database, api, group, first, second) in {one, other}
