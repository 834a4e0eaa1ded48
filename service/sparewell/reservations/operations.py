"""Promises to jobs. Each promised piece ends exactly once: used, released, spoiled or lapsed.

Promising a piece promises what is fixed in it too, the clip with its cap, to the same job: those
reservations go with the first one, follow each of its verbs, and refuse verbs of their own.

Locks are taken in one order everywhere, so that nobody waits in a circle: the job, then
reservations by id, then lots by id.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.database.transaction import locked
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.ledger.operations import LedgerLine, change_balance, record
from sparewell.ledger.tables import Verb
from sparewell.lots.fixed import inside
from sparewell.lots.tables import Lot
from sparewell.measure.money import take_share
from sparewell.places.operations import tray_of
from sparewell.reservations.settings import HOLD_LAPSES
from sparewell.reservations.tables import Reservation, ReservationState
from sparewell.settings.operations import present_values
from sparewell.work import Work

_MICROSECONDS_PER_HOUR = 3_600_000_000


@dataclass(frozen=True)
class Holder:
    """Who holds pieces of a lot: the job's number, the reservation, how many."""

    job: str
    reservation: int
    quantity: int


@dataclass(frozen=True)
class NewPromise:
    """What is to be promised: pieces of a lot to a job, and for which need."""

    lot_id: int
    quantity: int
    job_id: int
    need_id: int | None = None
    verdict: str | None = None
    why: str | None = None
    note: str = ""
    override: str | None = None


def find_reservation(session: Session, reservation_id: int) -> Reservation:
    """Return a reservation by its id. Raises :class:`NotFound`."""
    reservation = session.get(Reservation, reservation_id)
    if reservation is None:
        raise NotFound(f"there is no reservation {reservation_id}")
    return reservation


def open_on(session: Session, lot_id: int) -> list[Holder]:
    """Return who holds pieces of a lot."""
    statement = (
        select(Reservation)
        .where(Reservation.lot_id == lot_id, Reservation.promised > 0)
        .order_by(Reservation.id)
    )
    return [
        Holder(number_of(JOB_PREFIX, row.job_id), row.id, row.promised)
        for row in session.scalars(statement)
    ]


def promise_all(work: Work, promises: Sequence[NewPromise]) -> list[Reservation] | None:
    """Promise all of these or, where one lot has too few left, none, and return None.

    What is fixed in the pieces is promised with them. Raises :class:`Conflict` where another job
    has some of that.
    """
    expires_at = _expiry(work)
    followers = _followers(work, promises)
    everything = [*promises, *(follower for follower, _ in followers)]
    with work.session.begin_nested() as attempt:
        for promise in sorted(everything, key=lambda promise: promise.lot_id):
            if not change_balance(work.session, promise.lot_id, promised=promise.quantity):
                attempt.rollback()
                return None
        reservations = [_reservation(work, promise, expires_at) for promise in promises]
        work.session.add_all(reservations)
        work.session.flush()
        work.session.add_all(
            _reservation(work, follower, expires_at, goes_with_id=reservations[position].id)
            for follower, position in followers
        )
        work.session.flush()
    return reservations


def _followers(work: Work, promises: Sequence[NewPromise]) -> list[tuple[NewPromise, int]]:
    """Return a promise for each piece fixed in those promised, and the position of its leader."""
    named = {promise.lot_id for promise in promises}
    fixed = inside(work.session, named)
    if not fixed:
        return []
    found: list[tuple[NewPromise, int]] = []
    for position, promise in enumerate(promises):
        for lot in inside(work.session, [promise.lot_id]):
            holders = open_on(work.session, lot.id)
            job = number_of(JOB_PREFIX, promise.job_id)
            others = [holder for holder in holders if holder.job != job]
            if others:
                raise Conflict(
                    f"in bag {promise.lot_id} there is bag {lot.id} ({lot.kind}), which is "
                    f"promised to {others[0].job}",
                    [Problem("/lot", "take it out, or wait for that job", {"job": others[0].job})],
                )
            if lot.id not in named and not holders:
                named.add(lot.id)
                note = f"goes with bag {promise.lot_id}"
                found.append((NewPromise(lot.id, lot.in_hand, promise.job_id, note=note), position))
    return found


def _reservation(
    work: Work, promise: NewPromise, expires_at: datetime | None, goes_with_id: int | None = None
) -> Reservation:
    return Reservation(
        goes_with_id=goes_with_id,
        lot_id=promise.lot_id,
        job_id=promise.job_id,
        need_id=promise.need_id,
        quantity=promise.quantity,
        promised=promise.quantity,
        verdict=promise.verdict,
        why=promise.why,
        override=promise.override,
        note=promise.note,
        actor=work.actor.token,
        person=work.actor.person,
        created_at=work.now,
        expires_at=expires_at,
    )


def _expiry(work: Work) -> datetime | None:
    hours = present_values(work.session, work.declared)[HOLD_LAPSES.name]
    if not isinstance(hours, int | Decimal):
        return None
    return work.now + timedelta(microseconds=int(hours * _MICROSECONDS_PER_HOUR))


def fetch(work: Work, reservation: Reservation, quantity: int | None, note: str) -> Reservation:
    """Put held pieces into the job's tray, where they cannot lapse any more."""
    reservation, followers = _locked_family(work, reservation)
    held = reservation.promised - reservation.in_tray
    fetched = held if quantity is None else quantity
    _refuse_too_many(fetched, held, "not yet in the tray")
    if fetched == 0:
        return reservation
    _fetch(work, reservation, fetched, note)
    for follower in followers:
        _fetch(work, follower, follower.promised - follower.in_tray, note)
    return reservation


def _fetch(work: Work, reservation: Reservation, pieces: int, note: str) -> None:
    reservation.in_tray += pieces
    lot = locked(work.session, _lot(work.session, reservation))
    tray = tray_of(work, number_of(JOB_PREFIX, reservation.job_id))
    record(work, note, _line(reservation, lot, Verb.MOVED, pieces, tray.id, lot.place_id))


def use(work: Work, reservation: Reservation, quantity: int | None, note: str) -> Reservation:
    """Fit pieces: they leave the stock for good."""
    return _consume_family(work, reservation, quantity, note, ReservationState.USED, Verb.FITTED)


def spoil(work: Work, reservation: Reservation, quantity: int | None, note: str) -> Reservation:
    """Write off pieces ruined at fitting; what they were for is open again."""
    return _consume_family(
        work, reservation, quantity, note, ReservationState.SPOILED, Verb.SPOILED
    )


def _consume_family(
    work: Work,
    reservation: Reservation,
    quantity: int | None,
    note: str,
    end: ReservationState,
    verb: Verb,
) -> Reservation:
    reservation, followers = _locked_family(work, reservation)
    pieces = reservation.promised if quantity is None else quantity
    _refuse_too_many(pieces, reservation.promised, "still promised")
    takings = [(reservation, pieces), *((row, row.promised) for row in followers)]
    for row, taken in sorted(takings, key=lambda taking: taking[0].lot_id):
        _consume(work, row, taken, note, end, verb)
    return reservation


def _consume(
    work: Work, reservation: Reservation, pieces: int, note: str, end: ReservationState, verb: Verb
) -> None:
    lot = locked(work.session, _lot(work.session, reservation))
    cost = take_share(lot.cost_minor, lot.in_hand, pieces) if lot.cost_minor is not None else 0
    taken = change_balance(
        work.session, lot.id, in_hand=-pieces, promised=-pieces, cost_minor=-cost
    )
    assert taken, "a lot holds what it has promised"  # noqa: S101 - the CHECK says it too
    from_tray = min(reservation.in_tray, pieces)
    tray = tray_of(work, number_of(JOB_PREFIX, reservation.job_id)) if from_tray else None
    _end(reservation, pieces, end, from_tray=from_tray)
    line = LedgerLine(
        lot,
        verb,
        -pieces,
        pieces,
        -cost,
        tray.id if tray else lot.place_id,
        reservation_id=reservation.id,
        job_id=reservation.job_id,
    )
    record(work, note, line)


def release(work: Work, reservation: Reservation, quantity: int | None, note: str) -> Reservation:
    """Give up promised pieces; those in the tray go back to their drawer."""
    reservation, followers = _locked_family(work, reservation)
    pieces = reservation.promised if quantity is None else quantity
    _refuse_too_many(pieces, reservation.promised, "still promised")
    givings = [(reservation, pieces), *((row, row.promised) for row in followers)]
    for row, given_up in sorted(givings, key=lambda giving: giving[0].lot_id):
        give_up(work, row, given_up, ReservationState.RELEASED, note)
    return reservation


def release_all(work: Work, reservations: Sequence[Reservation], note: str) -> None:
    """Give up everything these still promise, in the order that keeps races apart."""
    rows = [locked(work.session, row) for row in sorted(reservations, key=lambda row: row.id)]
    for row in sorted(rows, key=lambda row: row.lot_id):
        if row.promised:
            give_up(work, row, row.promised, ReservationState.RELEASED, note)


def release_named(work: Work, lot_ids: Collection[int], reservation_ids: Sequence[int]) -> None:
    """Give up the named reservations of lots. Raises :class:`Impossible` for any other.

    One that goes with another is given up together with it, and it with all that go with it.
    """
    rows: list[Reservation] = []
    for position, reservation_id in enumerate(reservation_ids):
        row = work.session.get(Reservation, reservation_id)
        if row is None or row.lot_id not in lot_ids:
            lots = ", ".join(map(str, sorted(lot_ids)[:20])) or "none"
            raise Impossible.at(
                f"/release/{position}", f"{reservation_id} is no reservation of bag {lots}"
            )
        rows.append(row)
    leaders = {row.goes_with_id or row.id for row in rows}
    family = select(Reservation).where(
        Reservation.id.in_(leaders) | Reservation.goes_with_id.in_(leaders)
    )
    rows = list(work.session.scalars(family)) if rows else []
    release_all(work, rows, "released for something done to its bag")


def is_over(work: Work, reservation: Reservation) -> bool:
    """Whether pieces that were not fetched have waited too long."""
    expires_at = reservation.expires_at
    is_due = expires_at is not None and expires_at <= work.now
    return is_due and reservation.promised > reservation.in_tray


def give_up(
    work: Work, reservation: Reservation, pieces: int, end: ReservationState, note: str
) -> None:
    """Free promised pieces, those not yet fetched first."""
    held = reservation.promised - reservation.in_tray
    from_tray = max(0, pieces - held)
    freed = change_balance(work.session, reservation.lot_id, promised=-pieces)
    assert freed, "a lot has promised what its reservations hold"  # noqa: S101 - as above
    _end(reservation, pieces, end, from_tray=from_tray)
    if from_tray:
        lot = _lot(work.session, reservation)
        tray = tray_of(work, number_of(JOB_PREFIX, reservation.job_id))
        record(work, note, _line(reservation, lot, Verb.MOVED, from_tray, lot.place_id, tray.id))
    work.session.flush()


def _end(reservation: Reservation, pieces: int, end: ReservationState, *, from_tray: int) -> None:
    """Count pieces as ended; the end of the last one names the reservation's end."""
    setattr(reservation, end, getattr(reservation, end) + pieces)
    reservation.promised -= pieces
    reservation.in_tray -= from_tray
    if reservation.promised == 0:
        reservation.ended_as = end


def _locked_open(work: Work, reservation: Reservation) -> Reservation:
    """Lock a reservation that still promises something; a hold whose time is over has lapsed."""
    reservation = locked(work.session, reservation)
    if is_over(work, reservation):
        give_up(
            work,
            reservation,
            reservation.promised - reservation.in_tray,
            ReservationState.LAPSED,
            "",
        )
    if reservation.promised == 0:
        raise Conflict(
            f"reservation {reservation.id} has ended: it was {reservation.state}; "
            "nothing of it is promised any more"
        )
    return reservation


def _locked_family(
    work: Work, reservation: Reservation
) -> tuple[Reservation, Sequence[Reservation]]:
    """Lock a reservation and those that go with it, which are younger, in the order of ids."""
    leader_id = reservation.goes_with_id
    if leader_id is not None:
        raise Conflict(
            f"reservation {reservation.id} goes with reservation {leader_id}: what is done to "
            "that one is done to both",
            [Problem("", f"name reservation {leader_id}", {"reservation": leader_id})],
        )
    reservation = _locked_open(work, reservation)
    statement = (
        select(Reservation)
        .where(Reservation.goes_with_id == reservation.id, Reservation.promised > 0)
        .order_by(Reservation.id)
    )
    rows = [locked(work.session, row) for row in work.session.scalars(statement).all()]
    return reservation, [row for row in rows if row.promised]


def _refuse_too_many(wanted: int, present: int, what: str) -> None:
    if wanted > present:
        raise Conflict(
            f"{wanted} wanted, and {present} {'is' if present == 1 else 'are'} {what}",
            [Problem("/quantity", f"at most {present}")],
        )


def _lot(session: Session, reservation: Reservation) -> Lot:
    return session.get_one(Lot, reservation.lot_id)


def _line(
    reservation: Reservation, lot: Lot, verb: Verb, pieces: int, place_id: int, from_id: int
) -> LedgerLine:
    return LedgerLine(
        lot, verb, 0, pieces, 0, place_id, from_id, reservation.id, reservation.job_id
    )
