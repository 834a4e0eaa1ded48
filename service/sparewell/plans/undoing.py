"""Undoing an act: that a job's piece was ruined here, any other act through `handling.undoing`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.errors import Conflict, Problem
from sparewell.handling import undoing
from sparewell.jobs.ground import Ground, ground_of
from sparewell.jobs.held import HeldPiece, covers_of, held
from sparewell.jobs.inputs import fills
from sparewell.jobs.tables import Job
from sparewell.ledger.operations import LedgerLine, change_balance, record
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.places.tables import PlaceType
from sparewell.reservations.tables import Reservation, ReservationState
from sparewell.work import Work


def may_be_undone(line: Movement) -> bool:
    """Whether a line is of an act that can be undone, as far as its own verb says."""
    return line.verb == Verb.SPOILED or undoing.may_be_undone(line)


@dataclass(frozen=True)
class Undoing:
    """How many of the pieces that were ruined the job still wants, and what that rests on."""

    ground: Ground
    kept: int


def prepare(work: Work, act_id: int) -> Undoing | None:
    """Work out what it takes to undo an act; nothing unless a piece was ruined by it.

    Changes nothing. Raises :class:`NotFound`, and :class:`Conflict` where the job is not open.
    """
    lines = undoing.lines_of(work, undoing.find_act(work, act_id))
    if not _is_of_a_ruined_piece(lines):
        return None
    job = work.session.get_one(Job, lines[0].job_id)
    pieces = held(work.session, [job])
    ground = ground_of(work, job, pieces)
    return Undoing(ground, _still_lacking(work, job, lines[0], pieces))


def _is_of_a_ruined_piece(lines: Sequence[Movement]) -> bool:
    return len(lines) == 1 and lines[0].verb == Verb.SPOILED


def undo(work: Work, found: Undoing | None, act_id: int, note: str = "") -> Sequence[Movement]:
    """Undo an act; return the lines that do. Raises :class:`Conflict` with what is in the way.

    A piece that was not ruined after all is in hand again, and promised to its job as before, as
    far as the job still lacks it; what another piece was promised for meanwhile goes back free.
    """
    if found is None:
        return undoing.undo(work, act_id, note)
    found.ground.lock(work)
    act = undoing.find_act(work, act_id)
    (line,) = undoing.lines_of(work, act)
    reservation = locked(work.session, work.session.get_one(Reservation, line.reservation_id))
    _refuse_family(work, reservation)
    lot = locked(work.session, work.session.get_one(Lot, line.lot_id))
    undoing.refuse_undone(work, act)
    change_balance(
        work.session,
        lot.id,
        in_hand=line.pieces,
        promised=found.kept,
        cost_minor=-line.cost_change_minor,
    )
    _take_back(reservation, line, found.kept)
    opposite = LedgerLine(
        lot,
        Verb.UNDONE,
        line.pieces,
        line.pieces,
        -line.cost_change_minor,
        line.place_id,
        reservation_id=reservation.id,
        job_id=line.job_id,
    )
    return record(work, note, opposite, undoes_act_id=act.id)


def _refuse_family(work: Work, reservation: Reservation) -> None:
    """Refuse what was ruined together with a piece fixed in it, or fixed in another."""
    statement = select(Reservation.id).where(Reservation.goes_with_id == reservation.id).limit(1)
    if reservation.goes_with_id is not None or work.session.scalar(statement) is not None:
        raise Conflict(
            f"reservation {reservation.id} and what is fixed in its piece were ruined together: "
            "count both bags instead",
            [Problem("", "count the bags", {"lot": reservation.lot_id})],
        )


def _still_lacking(work: Work, job: Job, line: Movement, pieces: Sequence[HeldPiece]) -> int:
    """Return how many of the pieces the job still wants; extra ones it wants all."""
    reservation = work.session.get_one(Reservation, line.reservation_id)
    need = next((need for need in job.needs if need.id == reservation.need_id), None)
    if need is None:
        return line.pieces
    cover = replace(covers_of(pieces, [job])[need.id], fills=fills(work, job, need))
    return min(line.pieces, cover.remaining(need))


def _take_back(reservation: Reservation, line: Movement, kept: int) -> None:
    """Let a reservation promise again what it still is for; the rest is given back."""
    reservation.spoiled -= line.pieces
    reservation.promised += kept
    reservation.released += line.pieces - kept
    if line.place.type == PlaceType.TRAY:
        reservation.in_tray += kept
    reservation.ended_as = None if reservation.promised else ReservationState.RELEASED
