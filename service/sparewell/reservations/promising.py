"""Promising pieces to a job, and what is fixed in them with them: all of it or nothing.

The clip is promised with its cap, to the same job: its reservation goes with the first one.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Self, cast

from sqlalchemy import Table, insert, select
from sqlalchemy.orm import Session, aliased

from sparewell.database.inserting import one_or_many
from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import Conflict, Problem
from sparewell.ledger.operations import change_balance
from sparewell.lots.tables import Lot
from sparewell.reservations.settings import HOLD_LAPSES
from sparewell.reservations.tables import Reservation
from sparewell.settings.operations import present_values
from sparewell.work import Work

_MICROSECONDS_PER_HOUR = 3_600_000_000
_RESERVATION = cast("Table", Reservation.__table__)
_INSERT = insert(_RESERVATION).returning(
    _RESERVATION.c.id, _RESERVATION.c.lot_id, _RESERVATION.c.need_id
)


@dataclass(frozen=True)
class Margins:
    """How much room a piece had by a calculator: nanometres, or a number as it stands."""

    calculator: str
    by_name: Mapping[str, int | Decimal]

    @property
    def kept(self) -> dict[str, int | str]:
        """As a reservation keeps them."""
        return {
            name: str(value) if isinstance(value, Decimal) else value
            for name, value in self.by_name.items()
        }

    @classmethod
    def read(cls, calculator: str, kept: Mapping[str, int | str]) -> Self:
        """Return what was kept."""
        by_name = {
            name: Decimal(each) if isinstance(each, str) else each for name, each in kept.items()
        }
        return cls(calculator, by_name)


@dataclass(frozen=True)
class NewPromise:
    """What is to be promised: pieces of a lot to a job, and for which need.

    With a `version` the lot must still be what it was when that was read. Where it `is_alone`
    nothing can be fixed in it, and nothing is looked for. What is `pinned` stays there. One that
    `replaces` another keeps what was noted of that one: for whom, why, and until when.
    """

    lot_id: int
    quantity: int
    job_id: int
    need_id: int | None = None
    verdict: str | None = None
    why: str | None = None
    note: str = ""
    override: str | None = None
    version: int | None = None
    is_alone: bool = False
    margins: Margins | None = None
    pinned: bool = False
    replaces: Reservation | None = None


@dataclass(frozen=True)
class _Fixed:
    """Pieces fixed in a lot, and which jobs have some of them."""

    lot_id: int
    kind: str
    in_hand: int
    jobs: tuple[int, ...]


def how_long(work: Work) -> timedelta | None:
    """Return after what time a hold lapses, if it ever does."""
    hours = present_values(work.session, work.declared)[HOLD_LAPSES.name]
    if not isinstance(hours, int | Decimal):
        return None
    return timedelta(microseconds=int(hours * _MICROSECONDS_PER_HOUR))


def promise_all(
    work: Work, promises: Sequence[NewPromise], lasts: timedelta | None
) -> list[Reservation] | None:
    """Promise all of these or, where one lot has too few left, none, and return None.

    Those that replace others come last. What is fixed in the pieces is promised with them. Raises
    :class:`Conflict` where another job has some of that.
    """
    expires_at = None if lasts is None else work.now + lasts
    followers = _followers(work, promises)
    everything = [*promises, *(follower for follower, _ in followers)]
    if not _take_all(work.session, everything):
        return None
    rows = [_row(work, each, expires_at) for each in promises]
    plain = sum(each.replaces is None for each in promises)
    reservations = _written(work.session, rows[:plain])
    for row in rows[plain:]:  # several may come to have the same pieces for the same need
        reservations += _written(work.session, [row])
    if followers:
        following = [
            _row(work, follower, expires_at)
            | {"goes_with_id": leader.id, "expires_at": leader.expires_at, "person": leader.person}
            for follower, leader in ((each, reservations[at]) for each, at in followers)
        ]
        _written(work.session, following)
    return reservations


def _written(session: Session, rows: Sequence[dict[str, Any]]) -> list[Reservation]:
    """Write reservations and return them as they are now; the session does not know them.

    A need has one of a lot at most, which tells whose id is whose.
    """
    if not rows:
        return []
    made = session.connection().execute(_INSERT, one_or_many(rows))
    ids = {(lot_id, need_id): row_id for row_id, lot_id, need_id in made}
    return [Reservation(id=ids[row["lot_id"], row["need_id"]], **row) for row in rows]


def _take_all(session: Session, promises: Sequence[NewPromise]) -> bool:
    """Move every balance, in the order of the lots; where one cannot be, put the others back."""
    taken: list[NewPromise] = []
    for promise in sorted(promises, key=lambda promise: promise.lot_id):
        is_taken = change_balance(
            session, promise.lot_id, promised=promise.quantity, version=promise.version
        )
        if not is_taken:
            for each in taken:
                change_balance(session, each.lot_id, promised=-each.quantity)
            return False
        taken.append(promise)
    return True


def _followers(work: Work, promises: Sequence[NewPromise]) -> list[tuple[NewPromise, int]]:
    """Return a promise for each piece fixed in those promised, and the position of its leader."""
    fixed = _fixed_in(work.session, {each.lot_id for each in promises if not each.is_alone})
    named = {promise.lot_id for promise in promises}
    found: list[tuple[NewPromise, int]] = []
    for position, promise in enumerate(promises):
        for each in fixed.get(promise.lot_id, ()):
            others = [job for job in each.jobs if job != promise.job_id]
            if others:
                job = number_of(JOB_PREFIX, others[0])
                raise Conflict(
                    f"in bag {promise.lot_id} there is bag {each.lot_id} ({each.kind}), which is "
                    f"promised to {job}",
                    [Problem("/lot", "take it out, or wait for that job", {"job": job})],
                )
            if each.lot_id not in named and not each.jobs:
                named.add(each.lot_id)
                note = f"goes with bag {promise.lot_id}"
                follower = NewPromise(each.lot_id, each.in_hand, promise.job_id, note=note)
                found.append((follower, position))
    return found


def _fixed_in(session: Session, lot_ids: Collection[int]) -> dict[int, list[_Fixed]]:
    """Return what is fixed in each of these lots, and in that again; one statement however deep."""
    if not lot_ids:
        return {}
    fixed = (
        select(Lot.part_of_lot_id.label("root_id"), Lot.id.label("lot_id"))
        .where(Lot.part_of_lot_id.in_(lot_ids), Lot.in_hand > 0)
        .cte("fixed", recursive=True)
    )
    deeper = aliased(Lot)
    fixed = fixed.union(
        select(fixed.c.root_id, deeper.id)
        .join(fixed, deeper.part_of_lot_id == fixed.c.lot_id)
        .where(deeper.in_hand > 0)
    )
    statement = (
        select(fixed.c.root_id, Lot.id, Lot.kind, Lot.in_hand, Reservation.job_id)
        .join(Lot, Lot.id == fixed.c.lot_id)
        .outerjoin(Reservation, (Reservation.lot_id == Lot.id) & (Reservation.promised > 0))
        .order_by(Lot.id, Reservation.id)
    )
    found: dict[int, dict[int, _Fixed]] = {}
    for root_id, lot_id, kind, in_hand, job_id in session.execute(statement):
        within = found.setdefault(root_id, {})
        jobs = within[lot_id].jobs if lot_id in within else ()
        within[lot_id] = _Fixed(lot_id, kind, in_hand, jobs if job_id is None else (*jobs, job_id))
    return {root_id: list(within.values()) for root_id, within in found.items()}


def _row(work: Work, promise: NewPromise, expires_at: datetime | None) -> dict[str, Any]:
    before = promise.replaces
    return {
        "goes_with_id": None,
        "lot_id": promise.lot_id,
        "job_id": promise.job_id,
        "need_id": promise.need_id,
        "quantity": promise.quantity,
        "promised": promise.quantity,
        "verdict": promise.verdict,
        "why": promise.why,
        "override": promise.override,
        "calculator": promise.margins.calculator if promise.margins else None,
        "margins": promise.margins.kept if promise.margins else {},
        "note": before.note if before else promise.note,
        "actor": work.actor.token,
        "person": before.person if before else work.actor.person,
        "created_at": work.now,
        "expires_at": before.expires_at if before else expires_at,
        "pinned": promise.pinned,
    }
