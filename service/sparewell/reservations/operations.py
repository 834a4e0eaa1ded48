"""What becomes of promises. Each piece ends once: used, released, spoiled, lapsed or settled.

What is fixed in a promised piece is promised with it: those reservations go with the first one,
follow each of its verbs, and refuse verbs of their own.

Locks are taken in one order everywhere, so that nobody waits in a circle: the job, then
reservations by id, then lots by id.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, cast

from sqlalchemy import Row, Table, bindparam, or_, select, update
from sqlalchemy.orm import Session

from sparewell.database.inserting import one_or_many
from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.database.transaction import locked_rows
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.ledger.operations import LedgerLine, Located, change_balance, record_each
from sparewell.ledger.tables import Verb
from sparewell.lots.tables import Lot
from sparewell.measure.money import take_share
from sparewell.places.operations import tray_id_of
from sparewell.places.tables import Place
from sparewell.reservations.tables import ENDS, Reservation, ReservationState
from sparewell.work import Work

# Statements that every verb sends are put together once.
_FAMILY: Final = (
    select(Reservation)
    .where(
        or_(
            Reservation.id == bindparam("reservation_id"),
            Reservation.goes_with_id == bindparam("reservation_id"),
        )
    )
    .order_by(Reservation.id)
    .with_for_update(key_share=True)
    .execution_options(populate_existing=True)
)
_TRAY: Final = select(Place.id).where(Place.code == bindparam("tray")).scalar_subquery()
_LOTS: Final = (
    select(Lot.id, Lot.place_id, Lot.in_hand, Lot.cost_minor, _TRAY.label("tray_id"))
    .where(Lot.id.in_(bindparam("lot_ids", expanding=True)))
    .order_by(Lot.id)
    .with_for_update(key_share=True, of=Lot)
)
_STANDING: Final = ("promised", "in_tray", *ENDS, "ended_as", "glue")
_RESERVATION: Final = cast("Table", Reservation.__table__)
_STAND: Final = (
    update(_RESERVATION)
    .where(_RESERVATION.c.id == bindparam("row_id"))
    .values({name: bindparam(f"new_{name}") for name in _STANDING})
)


@dataclass(frozen=True)
class Holder:
    """Who holds pieces of a lot: the job's number, the reservation, how many."""

    job: str
    reservation: int
    quantity: int


def find_reservation(session: Session, reservation_id: int) -> Reservation:
    """Return a reservation by its id. Raises :class:`NotFound`."""
    reservation = session.get(Reservation, reservation_id)
    if reservation is None:
        raise _unknown(reservation_id)
    return reservation


def _unknown(reservation_id: int) -> NotFound:
    return NotFound(f"there is no reservation {reservation_id}")


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


def fetch(work: Work, reservation_id: int, quantity: int | None, note: str) -> Reservation:
    """Put held pieces into the job's tray, where they cannot lapse any more."""
    leader, followers = _locked_family(work, reservation_id)
    held = leader.promised - leader.in_tray
    fetched = held if quantity is None else quantity
    _refuse_too_many(fetched, held, "not yet in the tray")
    if fetched == 0:
        return leader
    takings = [(leader, fetched), *((row, row.promised - row.in_tray) for row in followers)]
    locked = _locked_lots(work, leader.job_id, {row.lot_id for row, _ in takings})
    tray_id = locked.tray_id or tray_id_of(work, number_of(JOB_PREFIX, leader.job_id))
    lines = []
    for row, pieces in takings:
        row.in_tray += pieces
        lot = locked.lots[row.lot_id]
        lines.append(_moved(row, lot, pieces, tray_id, lot.place_id))
    record_each(work, note, lines)
    _write(work.session, [row for row, _ in takings])
    return leader


def standing(work: Work, reservation_id: int) -> Reservation:
    """Lock a reservation that is to be changed, and that still promises something.

    Raises :class:`NotFound` and :class:`Conflict`.
    """
    return _locked_family(work, reservation_id)[0]


def change(work: Work, reservation: Reservation, said: Mapping[str, Any]) -> Reservation:
    """Change what is said of a locked reservation: whether it stays where it is."""
    reservation.pinned = said.get("pinned", reservation.pinned)
    work.session.flush()
    return reservation


def use(
    work: Work, reservation_id: int, quantity: int | None, note: str, glue: str | None = None
) -> Reservation:
    """Fit pieces: they leave the stock for good; they may be glued with something of their own."""
    used, fitted = ReservationState.USED, Verb.FITTED
    return _consume(work, reservation_id, quantity, note, used, fitted, glue=glue)


def spoil(
    work: Work,
    reservation_id: int,
    quantity: int | None,
    note: str,
    and_lock: Collection[int] = (),
) -> Reservation:
    """Write off pieces ruined at fitting; what they were for is open again.

    Name under `and_lock` the lots of which pieces are promised next: all are locked in one order.
    """
    return _consume(
        work, reservation_id, quantity, note, ReservationState.SPOILED, Verb.SPOILED, and_lock
    )


def _consume(
    work: Work,
    reservation_id: int,
    quantity: int | None,
    note: str,
    end: ReservationState,
    verb: Verb,
    and_lock: Collection[int] = (),
    glue: str | None = None,
) -> Reservation:
    leader, takings = _taken(work, reservation_id, quantity)
    if glue is not None:
        leader.glue = glue
    lot_ids = {row.lot_id for row, _ in takings}
    locked = _locked_lots(work, leader.job_id, lot_ids.union(and_lock))
    lines = []
    for row, pieces in takings:
        lot = locked.lots[row.lot_id]
        cost = 0 if lot.cost_minor is None else take_share(lot.cost_minor, lot.in_hand, pieces)
        taken = change_balance(
            work.session, lot.id, in_hand=-pieces, promised=-pieces, cost_minor=-cost
        )
        assert taken, "a lot holds what it has promised"  # noqa: S101 - the CHECK says it too
        from_tray = min(row.in_tray, pieces)
        place_id = locked.tray_id if from_tray else lot.place_id
        _end(row, pieces, end, from_tray=from_tray)
        lines.append(
            LedgerLine(
                lot,
                verb,
                -pieces,
                pieces,
                -cost,
                place_id,
                reservation_id=row.id,
                job_id=row.job_id,
            )
        )
    record_each(work, note, lines)
    _write(work.session, [row for row, _ in takings])
    return leader


def release(work: Work, reservation_id: int, quantity: int | None, note: str) -> Reservation:
    """Give up promised pieces; those in the tray go back to their drawer."""
    leader, givings = _taken(work, reservation_id, quantity)
    for row, pieces in givings:
        give_up(work, row, pieces, ReservationState.RELEASED, note)
    _write(work.session, [row for row, _ in givings])
    return leader


def _taken(
    work: Work, reservation_id: int, quantity: int | None
) -> tuple[Reservation, list[tuple[Reservation, int]]]:
    """Lock a reservation and those that go with it; return what is taken of each, by lots."""
    leader, followers = _locked_family(work, reservation_id)
    pieces = leader.promised if quantity is None else quantity
    _refuse_too_many(pieces, leader.promised, "still promised")
    takings = [(leader, pieces), *((row, row.promised) for row in followers)]
    return leader, sorted(takings, key=lambda taking: taking[0].lot_id)


def release_all(work: Work, reservations: Sequence[Reservation], note: str) -> None:
    """Give up everything these still promise, in the order that keeps races apart."""
    rows = locked_rows(work.session, Reservation, [row.id for row in reservations])
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
        locked = _locked_lots(work, reservation.job_id, [reservation.lot_id])
        lot = locked.lots[reservation.lot_id]
        line = _moved(reservation, lot, from_tray, lot.place_id, locked.tray_id)
        record_each(work, note, [line])


def _end(reservation: Reservation, pieces: int, end: ReservationState, *, from_tray: int) -> None:
    """Count pieces as ended; the end of the last one names the reservation's end."""
    setattr(reservation, end, getattr(reservation, end) + pieces)
    reservation.promised -= pieces
    reservation.in_tray -= from_tray
    if reservation.promised == 0:
        reservation.ended_as = end


def _write(session: Session, rows: Sequence[Reservation]) -> None:
    """Write how reservations stand, in one statement; the session knows no more of them then."""
    standing = [
        {"row_id": row.id, **{f"new_{name}": getattr(row, name) for name in _STANDING}}
        for row in rows
    ]
    session.connection().execute(_STAND, one_or_many(standing))
    for row in rows:
        session.expunge(row)


def _locked_family(work: Work, reservation_id: int) -> tuple[Reservation, Sequence[Reservation]]:
    """Lock a reservation and those that go with it, in the order of ids; they promise something.

    A hold whose time is over has lapsed. Raises :class:`NotFound` and :class:`Conflict`.
    """
    family = work.session.scalars(_FAMILY, {"reservation_id": reservation_id}).all()
    if not family:
        raise _unknown(reservation_id)
    leader, *followers = family
    _refuse_led(leader)
    if is_over(work, leader):
        give_up(work, leader, leader.promised - leader.in_tray, ReservationState.LAPSED, "")
    if leader.promised == 0:
        raise _has_ended(leader)
    return leader, [row for row in followers if row.promised]


def _has_ended(reservation: Reservation) -> Conflict:
    """Return the refusal of a verb after the end; what was settled names what took its place."""
    said = f"reservation {reservation.id} has ended: it was {reservation.state}; "
    successor_id = reservation.moved_to_id
    if successor_id is None:
        return Conflict(f"{said}nothing of it is promised any more")
    return Conflict(
        f"{said}reservation {successor_id} took its place",
        [Problem("", f"name reservation {successor_id}", {"reservation": successor_id})],
    )


def _refuse_led(reservation: Reservation) -> None:
    """Refuse a verb of its own to a reservation that goes with another."""
    leader_id = reservation.goes_with_id
    if leader_id is not None:
        raise Conflict(
            f"reservation {reservation.id} goes with reservation {leader_id}: what is done to "
            "that one is done to both",
            [Problem("", f"name reservation {leader_id}", {"reservation": leader_id})],
        )


def _refuse_too_many(wanted: int, present: int, what: str) -> None:
    if wanted > present:
        raise Conflict(
            f"{wanted} wanted, and {present} {'is' if present == 1 else 'are'} {what}",
            [Problem("/quantity", f"at most {present}")],
        )


@dataclass(frozen=True)
class _LockedLots:
    """Locked lots by id, each with its place and cost, and the tray of the job, if there is one."""

    lots: Mapping[int, Row[tuple[int, int, int, int | None]]]
    tray_id: int | None


def _locked_lots(work: Work, job_id: int, lot_ids: Collection[int]) -> _LockedLots:
    """Lock lots in the order of their ids, and read what the ledger says of them."""
    wanted = {"lot_ids": sorted(lot_ids), "tray": number_of(JOB_PREFIX, job_id)}
    rows = work.session.connection().execute(_LOTS, wanted).all()
    return _LockedLots({row.id: row for row in rows}, rows[0].tray_id)


def _moved(
    reservation: Reservation, lot: Located, pieces: int, place_id: int | None, from_id: int | None
) -> LedgerLine:
    return LedgerLine(
        lot, Verb.MOVED, 0, pieces, 0, place_id, from_id, reservation.id, reservation.job_id
    )
