"""Random histories of requests against a plain dictionary as their model, on both databases.

Each request comes with a key and a fate: it is answered, or repeated, or its answer is lost, or it
fails just before its commit. Whatever its fate, after the last repeat it has had one effect.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import count
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from conftest import Clock
from sparewell.app.sweep import sweep_once
from sparewell.audit.pieces import audit
from sparewell.database import faults
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.extend.host import Declarations
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation
from support.api import Api, Reply

pytestmark = pytest.mark.differs

HOURS = 24
FEW = st.integers(1, 3)
INDEX = st.integers(0, 30)
FATES = {
    "answered": None,
    "repeated": None,
    "answer lost": faults.AFTER_COMMIT,
    "failed with its key": faults.AFTER_KEY_CLAIMED,
    "failed before its commit": faults.BEFORE_COMMIT,
}
FATE = st.sampled_from(list(FATES))


@dataclass
class Held:
    """What the model knows of one reservation."""

    lot: int
    job: str
    covers_need: bool
    promised: int
    expires: datetime
    in_tray: int = 0
    used: int = 0
    put_back: int = 0
    quantity: int = 0
    pinned: bool = False

    def may_move(self, now: datetime) -> bool:
        """Whether it is whole, held, and not pinned."""
        return self.left(now) == self.quantity and not (self.in_tray or self.pinned)

    def left(self, now: datetime) -> int:
        """How many pieces it still promises; what was not fetched in time has lapsed."""
        return self.in_tray if self.expires <= now else self.promised


@dataclass
class Done:
    """An act that can be undone: what it changed, by lot, and the lot that it made."""

    changes: dict[int, int]
    made: int | None = None
    is_undone: bool = False


@dataclass
class Bench:
    """The service under test and what stands around it."""

    api: Api
    database: Database
    declared: Declarations
    clock: Clock
    numbers: Iterator[int] = field(default_factory=lambda: count(1))

    def send(self, path: str, body: dict[str, Any], fate: str = "answered") -> Reply:
        """Send a request until it is answered, and once more where its fate is to be repeated."""
        key = f"key-{next(self.numbers)}"
        place = FATES[fate]
        if place is not None:
            faults.arm(place, _fail)
            lost = self.api.post(path, body, Idempotency_Key=key)
            faults.disarm()
            assert lost.status == 500 or (lost.status < 500 and place == faults.AFTER_KEY_CLAIMED)
        reply = self.api.post(path, body, Idempotency_Key=key)
        if fate == "repeated":
            again = self.api.post(path, body, Idempotency_Key=key)
            assert (again.status, again.text) == (reply.status, reply.text)
        assert reply.status in {200, 201, 409}, reply.text
        return reply


def _fail() -> None:
    raise RuntimeError("armed")


class Stock(RuleBasedStateMachine):
    """Everything that moves a balance; each step is asked of the service and done to the model."""

    bench: Bench

    def __init__(self) -> None:
        super().__init__()
        self.in_hand: dict[int, int] = {}
        self.held: dict[int, Held] = {}
        self.jobs: list[str] = []
        self.done: dict[int, Done] = {}
        self.donors: dict[int, str] = {}
        self.cut_ones: set[int] = set()
        self.plain: set[int] = set()
        tag = f"M{next(self.bench.numbers)}"
        self.part, self.drawers = f"SAC-{tag}", [f"{tag}-a", f"{tag}-b"]
        for code in self.drawers:
            self.bench.send("/v1/drawers", {"code": code})
        self.bench.send("/v1/parts", {"number": self.part, "kind": "sac", "material": "latex"})
        # Something to begin with, or most steps of a short history would have nothing to act on.
        self.arrive_now(6, "answered")
        self.open_now("answered")

    @property
    def now(self) -> datetime:
        """The moment it is."""
        return self.bench.clock.now

    def promised(self, lot: int) -> int:
        """Return what the model has promised of a lot."""
        return sum(held.left(self.now) for held in self.held.values() if held.lot == lot)

    def available(self, lot: int) -> int:
        """Return what the model has left to promise of a lot."""
        return self.in_hand[lot] - self.promised(lot)

    def need_is_open(self, job: str) -> bool:
        """Whether the one sac that a job needs is neither promised nor used."""
        return not any(
            held.used - held.put_back or held.left(self.now)
            for held in self.held.values()
            if held.job == job and held.covers_need
        )

    def pick(self, index: int, of: Any) -> Any:
        """Return one of a collection, or None where it is empty."""
        choices = sorted(of)
        return choices[index % len(choices)] if choices else None

    def keep(self, reservation: dict[str, Any], job: str) -> None:
        """Add a reservation to the model."""
        expires = self.now + timedelta(hours=HOURS)
        self.held[reservation["id"]] = Held(
            reservation["lot"],
            job,
            reservation["need"] is not None,
            reservation["quantity"],
            expires,
            quantity=reservation["quantity"],
            pinned=reservation["pinned"],
        )

    @rule(quantity=FEW, fate=FATE)
    def arrive(self, quantity: int, fate: str) -> None:
        """Take pieces in."""
        self.arrive_now(quantity, fate)

    def arrive_now(self, quantity: int, fate: str) -> None:
        """Take pieces in, outside the rules too."""
        body = {
            "part": self.part,
            "drawer": self.drawers[0],
            "quantity": quantity,
            "measured": {"outside_diameter": "5.9 mm"},
        }
        lot = self.bench.send("/v1/lots", body, fate).body["id"]
        self.in_hand[lot] = quantity
        self.plain.add(lot)

    @rule(fate=FATE)
    def open(self, fate: str) -> None:
        """Open a job."""
        self.open_now(fate)

    def open_now(self, fate: str) -> None:
        """Open a job, outside the rules too."""
        pen = self.bench.api.pen()
        self.jobs.append(self.bench.send("/v1/jobs", {"pen": pen}, fate).body["number"])

    @rule(lot_index=INDEX, job_index=INDEX, quantity=FEW, fate=FATE)
    def reserve(self, lot_index: int, job_index: int, quantity: int, fate: str) -> None:
        """Promise pieces of a named lot, if there are enough."""
        lot, job = self.pick(lot_index, self.in_hand), self.pick(job_index, self.jobs)
        if lot is None or job is None:
            return
        possible = self.available(lot) >= quantity
        was_open = self.need_is_open(job)
        body = {"lot": lot, "quantity": quantity, "override": "whatever it is made of"}
        reply = self.bench.send(f"/v1/jobs/{job}/reservations", body | {"move": False}, fate)
        assert (reply.status == 201) == possible
        if possible:
            (made,) = reply.body["reservations"]
            assert (made["lot"], made["quantity"]) == (lot, quantity)
            assert (made["need"] is not None) == was_open
            self.keep(made, job)

    @rule(job_index=INDEX, fate=FATE)
    def reserve_best(self, job_index: int, fate: str) -> None:
        """Promise a job what it needs, if it needs something and anything is left."""
        job = self.pick(job_index, self.jobs)
        if job is None:
            return
        possible = self.need_is_open(job) and any(map(self.available, self.in_hand))
        reply = self.bench.send(f"/v1/jobs/{job}/reservations", {}, fate)
        assert (reply.status == 201) == possible, reply.text
        if possible:
            (made,) = reply.body["reservations"]
            assert made["quantity"] == 1
            assert self.available(made["lot"]) >= 1
            self.keep(made, job)

    @rule(lot_index=INDEX, job_index=INDEX, more=FEW, fate=FATE)
    def reserve_and_move(self, lot_index: int, job_index: int, more: int, fate: str) -> None:
        """Promise more of a named lot than is free, while others may move to what is as good."""
        movable = {held.lot for held in self.held.values() if held.may_move(self.now)}
        # A bag of which nothing could move is asked for now and then only.
        lot = self.pick(lot_index, movable if lot_index % 5 else self.in_hand)
        job = self.pick(job_index, self.jobs)
        if lot is None or job is None:
            return
        self.ask_for_more(lot, job, 1 if lot_index % 2 else more, fate)

    @rule(fate=FATE)
    def crowd_out(self, fate: str) -> None:
        """Let a new job have a piece unasked, and then another one want all of that bag."""
        self.arrive_now(1, "answered")
        for _ in range(2):
            self.open_now("answered")
        holder, asker = self.jobs[-2:]
        (made,) = self.bench.send(f"/v1/jobs/{holder}/reservations", {}).body["reservations"]
        self.keep(made, holder)
        self.ask_for_more(made["lot"], asker, 1, fate)

    def ask_for_more(self, lot: int, job: str, more: int, fate: str) -> None:
        """Ask for more of a bag than is free."""
        quantity = self.available(lot) + more
        body = {"lot": lot, "quantity": quantity, "override": "whatever it is made of"}
        must_move = self.must_move(lot, job, more)
        reply = self.bench.send(f"/v1/jobs/{job}/reservations", body, fate)
        if reply.status == 409:
            assert not must_move, reply.text
            return
        (made,) = reply.body["reservations"]
        assert (made["lot"], made["quantity"], made["pinned"]) == (lot, quantity, True)
        for each in reply.body["moved"]:
            self.move_aside(each, lot, job)
        self.keep(made, job)

    def must_move(self, lot: int, job: str, lacks: int) -> bool:
        """Whether so many single promises on a plain lot surely have another plain piece to go to.

        Of other lots the model does not know how well they fit.
        """
        single = [
            held
            for held in self.held.values()
            if (held.lot, held.quantity, held.covers_need) == (lot, 1, True)
            and held.may_move(self.now)
            and held.job != job
        ]
        elsewhere = sum(self.available(other) for other in self.plain - {lot})
        return lot in self.plain and lacks <= min(len(single), elsewhere)

    def move_aside(self, told: dict[str, Any], lot: int, job: str) -> None:
        """Let a promise move in the model as the service says it did, if it might."""
        before = self.held[told["reservation"]]
        assert (told["job"], told["lot"], told["moved_for"]) == (before.job, before.lot, job)
        assert before.may_move(self.now)
        assert before.covers_need
        assert told["to_lot"] != before.lot
        assert before.lot == lot or any(each.lot == lot for each in self.held.values())
        self.held[told["moved_to"]] = replace(before, lot=told["to_lot"])
        before.promised = 0

    @rule(index=INDEX, pinned=st.booleans())
    def pin(self, index: int, pinned: bool) -> None:  # noqa: FBT001 - hypothesis hands it in
        """Say of a promise whether it stays, as long as it stands."""
        number = self.pick(index, self.held)
        if number is None:
            return
        held = self.held[number]
        reply = self.bench.api.patch(f"/v1/reservations/{number}", {"pinned": pinned})
        assert (reply.status == 200) == (held.left(self.now) > 0), reply.text
        if reply.status == 200:
            held.pinned = reply.body["pinned"]

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def fetch(self, index: int, quantity: int, fate: str) -> None:
        """Put held pieces into the tray."""
        self.end("fetch", index, quantity, fate)

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def use(self, index: int, quantity: int, fate: str) -> None:
        """Fit promised pieces."""
        self.end("use", index, quantity, fate)

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def spoil(self, index: int, quantity: int, fate: str) -> None:
        """Ruin promised pieces."""
        self.end("spoil", index, quantity, fate)

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def spoil_and_reserve(self, index: int, quantity: int, fate: str) -> None:
        """Ruin promised pieces, and have the next one in the same breath."""
        self.end("spoil", index, quantity, fate, reserve_next=True)

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def release(self, index: int, quantity: int, fate: str) -> None:
        """Give promised pieces up."""
        self.end("release", index, quantity, fate)

    def end(self, verb: str, index: int, quantity: int, fate: str, **more: bool) -> None:
        """Fetch, use, spoil or release pieces of a reservation, if so many are there."""
        # Those that have ended are asked for now and then only.
        live = [number for number, held in self.held.items() if held.left(self.now)]
        number = self.pick(index, live if index % 5 else self.held)
        if number is None:
            return
        held = self.held[number]
        left = held.left(self.now)
        untouched = left - held.in_tray
        limit = untouched if verb == "fetch" else left
        # More than there are are asked for now and then only.
        quantity = quantity if index % 3 == 0 else max(1, min(quantity, limit))
        possible = left > 0 and quantity <= limit
        body = {"quantity": quantity, **more}
        reply = self.bench.send(f"/v1/reservations/{number}/{verb}", body, fate)
        assert (reply.status == 200) == possible
        if not possible:
            return
        held.promised = left
        if verb == "fetch":
            held.in_tray += quantity
            return
        held.promised -= quantity
        if verb == "release":
            held.in_tray -= max(0, quantity - untouched)
            return
        held.in_tray -= min(held.in_tray, quantity)
        held.used += quantity if verb == "use" else 0
        self.in_hand[held.lot] -= quantity
        if verb == "spoil":
            self.replace_spoiled(held, reply.body["next"], asked=bool(more))

    def replace_spoiled(self, held: Held, told: dict[str, Any], *, asked: bool) -> None:
        """Keep the piece that a spoil has reserved, which it does if it was asked and can."""
        lacks = held.covers_need and self.need_is_open(held.job)
        possible = asked and lacks and any(map(self.available, self.in_hand))
        assert len(told["reserved"]) == int(possible), told
        for made in told["reserved"]:
            assert made["quantity"] == 1
            assert self.available(made["lot"]) >= 1
            self.keep(made, held.job)
        assert told["lacks"] == int(lacks and not possible)

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def put_back(self, index: int, quantity: int, fate: str) -> None:
        """Take used pieces into stock again, as a lot of their own; their need is open then."""
        used = {number: held.used - held.put_back for number, held in self.held.items()}
        # More than are left are asked for now and then only.
        number = self.pick(index, [number for number in used if used[number] > 0])
        if number is None:
            return
        held = self.held[number]
        quantity = quantity if index % 5 == 0 else min(quantity, used[number])
        possible = quantity <= used[number]
        body = {"reservation": number, "quantity": quantity, "condition": "used"}
        reply = self.bench.send(f"/v1/lots/{held.lot}/put-back", body, fate)
        assert (reply.status == 201) == possible
        if not possible:
            return
        held.put_back += quantity
        made = reply.body["made"][0]["id"]
        self.in_hand[made] = quantity
        if held.lot in self.cut_ones:
            self.cut_ones.add(made)

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def cut(self, index: int, quantity: int, fate: str) -> None:
        """Cut free pieces, which become a lot of their own; none is cut twice."""
        lot = self.pick(index, self.in_hand.keys() - self.cut_ones)
        if lot is None:
            return
        possible = self.available(lot) >= quantity
        body = {"quantity": quantity, "length": "50 mm"}
        reply = self.bench.send(f"/v1/lots/{lot}/cut", body, fate)
        assert (reply.status == 201) == possible
        if possible:
            (made,) = (each["id"] for each in reply.body["made"])
            self.in_hand[lot] -= quantity
            self.in_hand[made] = quantity
            self.cut_ones.add(made)
            self.done[reply.body["group"]] = Done({lot: -quantity, made: quantity}, made)

    @rule(fate=FATE)
    def keep_a_donor(self, fate: str) -> None:
        """Keep a donor with one sac in it."""
        measured = {"outside_diameter": "5.9 mm"}
        sac = {"kind": "sac", "state": "present", "measured": measured, "material": "latex"}
        donor = self.bench.send("/v1/donors", {"called": "wreck", "components": [sac]}, fate).body
        lot = donor["components"][0]["lot"]
        self.in_hand[lot] = 1
        self.donors[lot] = donor["number"]

    @rule(index=INDEX, side=st.integers(0, 1), fate=FATE)
    def strip(self, index: int, side: int, fate: str) -> None:
        """Take a donor's sac out, promised or not, if it is there."""
        lot = self.pick(index, self.donors)
        if lot is None:
            return
        lies_in = self.bench.api.get(f"/v1/lots/{lot}").body["place"]
        possible = self.in_hand[lot] > 0 and lies_in == self.donors[lot]
        body = {"lots": [lot], "drawer": self.drawers[side]}
        reply = self.bench.send(f"/v1/donors/{self.donors[lot]}/strip", body, fate)
        assert (reply.status == 200) == possible

    @rule(side=st.integers(0, 1), counted=st.lists(st.integers(0, 6), max_size=3), fate=FATE)
    def count_a_drawer(self, side: int, counted: list[int], fate: str) -> None:
        """Count lots of a drawer together: all of them, or none where one would have too few."""
        path = f"/v1/drawers/{self.drawers[side]}"
        sheet = self.bench.api.get(f"{path}/count-sheet?limit=500").body["lines"]
        counts = {line["lot"]: pieces for line, pieces in zip(sheet, counted, strict=False)}
        if not counts:
            return
        possible = all(pieces >= self.promised(lot) for lot, pieces in counts.items())
        body = {"counts": [{"lot": lot, "counted": pieces} for lot, pieces in counts.items()]}
        reply = self.bench.send(f"{path}/counts", body, fate)
        assert (reply.status == 200) == possible
        if possible:
            changes = {lot: pieces - self.in_hand[lot] for lot, pieces in counts.items()}
            told = {each["lot"]: each["difference"] for each in reply.body["counted"]}
            assert told == changes
            self.in_hand |= counts
            self.done[reply.body["group"]] = Done(changes)

    def remember(self, lot: int, verb: str, change: int) -> None:
        """Note the latest act on a lot, so that it may be undone."""
        lines = self.bench.api.get(f"/v1/movements?lot={lot}&verb={verb}&limit=500")
        self.done[lines.body["movements"][-1]["group"]] = Done({lot: change})

    @rule(index=INDEX, fate=FATE)
    def undo(self, index: int, fate: str) -> None:
        """Undo an act once, if what it brought is free; a lot that it made must be untouched."""
        group = self.pick(index, self.done)
        if group is None:
            return
        act = self.done[group]
        possible = not act.is_undone and all(
            self.available(lot) >= change for lot, change in act.changes.items() if change > 0
        )
        reply = self.bench.send(f"/v1/movements/{group}/undo", {}, fate)
        if reply.status == 409:
            assert not possible or act.made is not None, reply.text
            return
        assert possible, reply.text
        act.is_undone = True
        for lot, change in act.changes.items():
            self.in_hand[lot] -= change

    @rule(index=INDEX, counted=st.integers(0, 8), gives_up=st.booleans(), fate=FATE)
    def count(self, index: int, counted: int, gives_up: bool, fate: str) -> None:  # noqa: FBT001 - hypothesis hands it in
        """Count a lot, which may not leave less than is promised once named holds are given up."""
        lot = self.pick(index, self.in_hand)
        if lot is None:
            return
        given_up = [
            number
            for number, held in sorted(self.held.items())
            if gives_up and held.lot == lot and held.left(self.now)
        ]
        possible = counted >= (0 if gives_up else self.promised(lot))
        body = {"counted": counted, "release": given_up}
        reply = self.bench.send(f"/v1/lots/{lot}/count", body, fate)
        assert (reply.status == 200) == possible
        if possible:
            self.remember(lot, "counted", counted - self.in_hand[lot])
            self.in_hand[lot] = counted
            for number in given_up:
                self.held[number].promised = self.held[number].in_tray = 0

    @rule(index=INDEX, quantity=FEW, fate=FATE)
    def discard(self, index: int, quantity: int, fate: str) -> None:
        """Throw free pieces away."""
        lot = self.pick(index, self.in_hand)
        if lot is None:
            return
        possible = self.available(lot) >= quantity
        reply = self.bench.send(f"/v1/lots/{lot}/discard", {"quantity": quantity}, fate)
        assert (reply.status == 200) == possible
        if possible:
            self.in_hand[lot] -= quantity
            self.remember(lot, "discarded", -quantity)

    @rule(index=INDEX, quantity=FEW, side=st.integers(0, 1), fate=FATE)
    def move(self, index: int, quantity: int, side: int, fate: str) -> None:
        """Move free pieces to the other drawer; to where they lie already is refused."""
        lot = self.pick(index, self.in_hand)
        if lot is None:
            return
        drawer = self.drawers[side]
        lies_there = self.bench.api.get(f"/v1/lots/{lot}").body["place"] == drawer
        possible = self.available(lot) >= quantity and not lies_there
        body = {"quantity": quantity, "drawer": drawer}
        reply = self.bench.send(f"/v1/lots/{lot}/move", body, fate)
        assert (reply.status == 200) == possible
        if possible and reply.body["id"] != lot:
            self.in_hand[lot] -= quantity
            self.in_hand[reply.body["id"]] = quantity
            for alike in (self.cut_ones, self.plain):
                if lot in alike:
                    alike.add(reply.body["id"])

    @rule(index=INDEX, verb=st.sampled_from(["cancel", "close"]), fate=FATE)
    def finish(self, index: int, verb: str, fate: str) -> None:
        """Cancel a job, which gives up all it holds, or close one that holds nothing."""
        job = self.pick(index, self.jobs)
        if job is None:
            return
        mine = [held for held in self.held.values() if held.job == job]
        possible = verb == "cancel" or not any(held.left(self.now) for held in mine)
        reply = self.bench.send(
            f"/v1/jobs/{job}/{verb}", {"anyway": "done"} if verb == "close" else {}, fate
        )
        assert (reply.status == 200) == possible
        if possible:
            self.jobs.remove(job)
            for held in mine:
                held.promised = held.in_tray = 0

    @rule(hours=st.integers(1, 30), is_swept=st.booleans())
    def wait(self, hours: int, is_swept: bool) -> None:  # noqa: FBT001 - hypothesis hands it in
        """Let time pass, and the sweep come by or not."""
        self.bench.clock.now += timedelta(hours=hours)
        if is_swept:
            sweep_once(self.bench.database, self.bench.declared, self.now)

    @invariant()
    def service_and_model_agree(self) -> None:
        """Every balance is the model's, holds that nobody has ended yet aside, and all adds up."""
        with read(self.bench.database) as session:
            assert audit(session).faults == ()
            over: dict[int, int] = {}
            for number, held in self.held.items():
                kept = session.get_one(Reservation, number)
                left = held.left(self.now)
                assert kept.in_tray == held.in_tray
                assert kept.promised in {left, held.promised}
                over[held.lot] = over.get(held.lot, 0) + kept.promised - left
            for lot, in_hand in self.in_hand.items():
                row = session.get_one(Lot, lot)
                assert row.in_hand == in_hand
                assert row.promised - over.get(lot, 0) == self.promised(lot)

    def teardown(self) -> None:
        """See that each need stands as its pieces do, and leave nothing to the next history."""
        sweep_once(self.bench.database, self.bench.declared, self.now)
        for job in self.jobs:
            need = self.bench.api.get(f"/v1/jobs/{job}").body["needs"][0]
            mine = [each for each in self.held.values() if each.job == job and each.covers_need]
            assert need["promised"] == sum(held.left(self.now) for held in mine)
            assert need["used"] == sum(held.used - held.put_back for held in mine)
            assert (need["state"] == "open") == self.need_is_open(job), need
            self.bench.send(f"/v1/jobs/{job}/cancel", {})
        for lot in self.in_hand:
            reply = self.bench.send(f"/v1/lots/{lot}/count", {"counted": 0})
            assert reply.body["in_hand"] == reply.body["promised"] == 0


@pytest.fixture
def bench(api: Api, database: Database, declared: Declarations, clock: Clock) -> Iterator[Bench]:
    """A service whose holds lapse after a day."""
    setting = "/v1/settings/stock.hold_lapses_after_hours"
    assert api.patch(setting, {"value": HOURS, "why": "the model"}).status == 200
    yield Bench(api, database, declared, clock)
    faults.disarm()


@pytest.mark.timeout(1200)
@pytest.mark.parametrize(
    "histories",
    [pytest.param(24, marks=pytest.mark.rest), pytest.param(240, marks=pytest.mark.long)],
)
def test_random_histories_agree_with_the_model(bench: Bench, histories: int) -> None:
    """Whatever is asked in whatever order and with whatever fate, the model says the same."""
    run_state_machine_as_test(
        type("Bound", (Stock,), {"bench": bench}),
        settings=settings(
            max_examples=histories,
            stateful_step_count=40,
            deadline=None,
            # To make a failing history shorter takes minutes; the blob that is printed repeats it.
            phases=[Phase.generate],
            print_blob=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
