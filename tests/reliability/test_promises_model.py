"""Random histories of the stock against a plain dictionary as their model, on both databases."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from conftest import NOW
from sparewell.catalogue.operations import NewPart, create_part
from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.errors import Conflict
from sparewell.extend.host import Declarations
from sparewell.extend.settings import change_setting
from sparewell.extend.work import Actor, Work
from sparewell.repairs.jobs import cancel_job, find_job, open_job
from sparewell.repairs.pens import NewPen, create_pen
from sparewell.repairs.reserving import reserve_lot
from sparewell.stock import lots, places, reservations
from sparewell.stock.audit import audit
from sparewell.stock.tables import Lot, Reservation

HOURS = 24
FEW = st.integers(1, 4)
INDEX = st.integers(0, 30)


@dataclass
class Held:
    """What the model knows of one reservation."""

    lot: int
    job: str
    promised: int
    in_tray: int = 0
    expires: Any = None


class Stock(RuleBasedStateMachine):
    """Everything that moves a balance; each step is done to the service and to the model."""

    database: Database
    declared: Declarations

    def __init__(self) -> None:
        super().__init__()
        self.now = NOW
        self.in_hand: dict[int, int] = {}
        self.held: dict[int, Held] = {}
        self.jobs: list[str] = []
        self.number = 0
        self.do(self._open)

    def do(self, action: Any, *arguments: Any) -> Any:
        """Run one unit of work."""
        return write(
            self.database,
            lambda session: action(
                Work(session, self.now, Actor("model"), self.declared), *arguments
            ),
        )

    def _open(self, work: Work) -> None:
        tag = f"M{id(self)}"
        self.part = create_part(work, NewPart(tag, "sac")).number
        self.drawers = [places.create_drawer(work, f"{tag}-{side}").code for side in "ab"]
        change_setting(work, "stock.hold_lapses_after_hours", HOURS, "the model")

    def expired(self, held: Held) -> bool:
        """Whether a hold's time is over, so that what is not in the tray has lapsed."""
        return held.expires is not None and held.expires <= self.now

    def lapse(self, lot: int | None = None) -> None:
        """Let the model's holds lapse."""
        for held in self.held.values():
            if (lot is None or held.lot == lot) and self.expired(held):
                held.promised = held.in_tray

    def promised(self, lot: int) -> int:
        """Return what the model has promised of a lot."""
        return sum(held.promised for held in self.held.values() if held.lot == lot)

    def pick(self, index: int, of: Any) -> Any:
        """Return one of a list, or None where it is empty."""
        choices = sorted(of)
        return choices[index % len(choices)] if choices else None

    @rule(quantity=FEW)
    def arrive(self, quantity: int) -> None:
        """Take pieces in."""
        lot = self.do(
            lambda work: lots.arrive(work, lots.NewLot(self.part, self.drawers[0], quantity)).id
        )
        self.in_hand[lot] = quantity

    @rule()
    def open(self) -> None:
        """Open a job."""

        def make(work: Work) -> str:
            return open_job(work, create_pen(work, NewPen("pen", "lever"))).number

        self.jobs.append(self.do(make))

    @rule(lot_index=INDEX, job_index=INDEX, quantity=FEW)
    def reserve(self, lot_index: int, job_index: int, quantity: int) -> None:
        """Promise pieces, if there are enough."""
        lot, job = self.pick(lot_index, self.in_hand), self.pick(job_index, self.jobs)
        if lot is None or job is None:
            return
        self.lapse(lot)
        possible = self.in_hand[lot] - self.promised(lot) >= quantity

        def make(work: Work) -> int:
            return reserve_lot(work, find_job(work.session, job), lot, quantity)[0].id

        try:
            made = self.do(make)
        except Conflict:
            assert not possible
        else:
            assert possible
            expires = self.now + timedelta(hours=HOURS)
            self.held[made] = Held(lot, job, quantity, 0, expires)

    @rule(index=INDEX, quantity=FEW, verb=st.sampled_from(["fetch", "use", "spoil", "release"]))
    def end(self, index: int, quantity: int, verb: str) -> None:
        """Fetch, use, spoil or release pieces of a reservation, if so many are there."""
        number = self.pick(index, self.held)
        if number is None:
            return
        held = self.held[number]
        after_lapse = held.in_tray if self.expired(held) else held.promised
        limit = after_lapse - held.in_tray if verb == "fetch" else after_lapse
        possible = after_lapse > 0 and quantity <= limit

        def act(work: Work) -> None:
            found = reservations.find_reservation(work.session, number)
            getattr(reservations, verb)(work, found, quantity, "")

        try:
            self.do(act)
        except Conflict:
            assert not possible
            return
        assert possible
        untouched = after_lapse - held.in_tray
        held.promised = after_lapse
        if verb == "fetch":
            held.in_tray += quantity
            return
        held.promised -= quantity
        if verb == "release":
            held.in_tray -= max(0, quantity - untouched)
        else:
            held.in_tray -= min(held.in_tray, quantity)
            self.in_hand[held.lot] -= quantity

    @rule(index=INDEX, counted=st.integers(0, 8))
    def count(self, index: int, counted: int) -> None:
        """Count a lot, which may not leave less than is promised."""
        lot = self.pick(index, self.in_hand)
        if lot is None:
            return
        self.lapse(lot)
        possible = counted >= self.promised(lot)
        try:
            self.do(lambda work: lots.count(work, lots.find_lot(work.session, lot), counted, ""))
        except Conflict:
            assert not possible
        else:
            assert possible
            self.in_hand[lot] = counted

    @rule(index=INDEX, quantity=FEW)
    def move(self, index: int, quantity: int) -> None:
        """Move free pieces to the other drawer and back."""
        lot = self.pick(index, self.in_hand)
        if lot is None:
            return
        self.lapse(lot)
        possible = self.in_hand[lot] - self.promised(lot) >= quantity

        def act(work: Work) -> int:
            found = lots.find_lot(work.session, lot)
            drawer = next(code for code in self.drawers if code != found.place.code)
            return lots.move(work, found, drawer, quantity, "").id

        try:
            moved = self.do(act)
        except Conflict:
            assert not possible
            return
        assert possible
        if moved != lot:
            self.in_hand[lot] -= quantity
            self.in_hand[moved] = quantity

    @rule(index=INDEX)
    def cancel(self, index: int) -> None:
        """Cancel a job, which gives up all it holds."""
        job = self.pick(index, self.jobs)
        if job is None:
            return
        self.do(lambda work: cancel_job(work, find_job(work.session, job)))
        self.jobs.remove(job)
        for held in self.held.values():
            if held.job == job:
                held.promised = held.in_tray = 0

    @rule(hours=st.integers(1, 30))
    def wait(self, hours: int) -> None:
        """Let time pass, and the sweep come by."""
        self.now += timedelta(hours=hours)
        self.do(reservations.lapse_expired)
        self.lapse()

    @invariant()
    def service_and_model_agree(self) -> None:
        """Every balance is the model's, and the ledger adds up."""
        with read(self.database) as session:
            assert audit(session).faults == ()
            for lot, in_hand in self.in_hand.items():
                row = session.get_one(Lot, lot)
                assert (row.in_hand, row.promised) == (in_hand, self.promised(lot))
            for number, held in self.held.items():
                kept = session.get_one(Reservation, number)
                assert (kept.promised, kept.in_tray) == (held.promised, held.in_tray)


@pytest.mark.timeout(240)
def test_random_histories_agree_with_the_model(database: Database, declared: Declarations) -> None:
    """Whatever is done in whatever order, balances, promises and refusals are the model's."""
    machine = type("Bound", (Stock,), {"database": database, "declared": declared})
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=12,
            stateful_step_count=40,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
