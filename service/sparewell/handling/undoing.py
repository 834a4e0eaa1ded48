"""Undoing: the ledger is never changed, so what was done is answered by its opposite.

The opposite lines stand in an act of their own that names the one it undoes; the database lets no
act be undone twice. What belongs to a promise ends with the promise's own verbs instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sqlalchemy import select
from sqlalchemy.orm import aliased

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import Conflict, NotFound, Problem
from sparewell.handling.freeing import jobs_holding, locked_free, promised_problems
from sparewell.ledger.operations import LedgerLine, change_balance, record
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.work import Work

_WHY_NOT: Mapping[str, str] = {
    Verb.UNDONE: "it undid another itself; do again what it undid",
    Verb.VALUED: "a cost is put right by changing the bag",
    Verb.STRIPPED: "what was taken out stays out; move it to where it belongs",
    Verb.CHECKED: "a line of a donor's checklist is changed on the donor",
}
# Lines that add pieces of a lot there was not before.
_MAKES = (Verb.ARRIVED, Verb.MOVED, Verb.CUT, Verb.OPENED, Verb.PUNCHED)


def undo(work: Work, act_id: int, note: str = "") -> list[Movement]:
    """Undo an act; return the lines that do. Raises :class:`Conflict` with what is in the way."""
    act = find_act(work, act_id)
    lines = lines_of(work, act)
    _refuse_kind(act, lines)
    lots = [work.session.get_one(Lot, line.lot_id) for line in lines]
    locked = {lot.id: lot for lot in locked_free(work, lots, ())}
    refuse_undone(work, act)
    in_order = sorted(lines, key=lambda line: line.lot_id)
    for line in in_order:
        _refuse_line(work, act, line, locked[line.lot_id])
    opposite = [_opposite(work, line, locked[line.lot_id]) for line in in_order]
    return record(work, note, *opposite, undoes_act_id=act.id)


def may_be_undone(line: Movement) -> bool:
    """Whether a line is of an act that can be undone, as far as its own verb says."""
    return line.reservation_id is None and line.verb not in _WHY_NOT


def find_act(work: Work, act_id: int) -> Act:
    """Return an act by its number. Raises :class:`NotFound`."""
    act = work.session.get(Act, act_id)
    if act is None:
        raise NotFound(f"there is no group {act_id} of movements")
    return act


def refuse_undone(work: Work, act: Act) -> None:
    """Raise :class:`Conflict` where an act was undone already; its lots are locked."""
    undone_by = work.session.scalar(select(Act.id).where(Act.undoes_act_id == act.id))
    if undone_by is not None:
        raise Conflict(f"group {act.id} was undone already, by group {undone_by}")


def lines_of(work: Work, act: Act) -> Sequence[Movement]:
    """Return the lines of an act, in their order."""
    statement = select(Movement).where(Movement.act_id == act.id).order_by(Movement.id)
    return work.session.scalars(statement).all()


def _refuse_kind(act: Act, lines: Sequence[Movement]) -> None:
    """Refuse what is not undone in this way, and say what is done instead."""
    for line in lines:
        if line.reservation_id is not None:
            job = number_of(JOB_PREFIX, line.job_id) if line.job_id else "a job"
            raise Conflict(
                f"group {act.id} belongs to a promise to {job}: reservation "
                f"{line.reservation_id} ends with use, release or spoil, and put-back takes used "
                "pieces into stock again, which opens their need again while the job is open; only "
                "that a piece was ruined can be undone",
                [Problem("", "it is no act of its own", {"reservation": line.reservation_id})],
            )
        if line.verb in _WHY_NOT:
            raise Conflict(f"group {act.id} cannot be undone: {_WHY_NOT[line.verb]}")


def _refuse_line(work: Work, act: Act, line: Movement, lot: Lot) -> None:
    """Refuse a line whose pieces are not as it left them."""
    if line.change == 0 and line.verb == Verb.MOVED:
        if lot.place_id != line.place_id:
            raise Conflict(
                f"group {act.id} put bag {lot.id} into {line.place.code}, and now it lies in "
                f"{lot.place.code}",
                [Problem("", "move it by hand, or undo the later move first", {"lot": lot.id})],
            )
        return
    if line.change <= 0:
        return
    if line.verb == Verb.ARRIVED and lot.donor_id is not None:
        raise Conflict(
            f"bag {lot.id} stands on a donor's checklist; say there that it is missing",
            [Problem("", "change the component of the donor", {"lot": lot.id})],
        )
    if line.verb in _MAKES:
        _refuse_touched(work, act, lot)
    if lot.available < line.change:
        holding = jobs_holding(work, lot)
        raise Conflict(
            f"{line.change} of bag {lot.id} would have to go, and {lot.available} of it are free"
            + (f"; the others are promised to {holding}" if holding else ""),
            promised_problems(work, lot, ""),
        )
    left, cost = lot.in_hand - line.change, (lot.cost_minor or 0) - line.cost_change_minor
    if cost < 0 or (left == 0 and cost > 0):
        raise Conflict(
            f"the cost of bag {lot.id} was changed since group {act.id}, so it would not add up; "
            "count the bag instead",
            [Problem("", "its cost was changed", {"lot": lot.id})],
        )


def _refuse_touched(work: Work, act: Act, lot: Lot) -> None:
    """Refuse where anything was done since with a lot that the act made."""
    undoing = aliased(Act)
    statement = (
        select(Movement)
        .join(Act, Act.id == Movement.act_id)
        .outerjoin(undoing, undoing.undoes_act_id == Act.id)
        .where(
            Movement.lot_id == lot.id,
            Movement.act_id != act.id,
            undoing.id.is_(None),
            Act.undoes_act_id.is_(None),
            # Into a tray and out again leaves a piece as it was.
            Movement.reservation_id.is_(None) | (Movement.change != 0),
        )
        .order_by(Movement.id.desc())
        .limit(1)
    )
    touched = work.session.scalars(statement).first()
    if touched is not None:
        raise Conflict(
            f"bag {lot.id}, which group {act.id} made, was {touched.verb.replace('_', ' ')} since, "
            f"in group {touched.act_id}",
            [Problem("", "undo that group first, if it can be", {"group": touched.act_id})],
        )


def _opposite(work: Work, line: Movement, lot: Lot) -> LedgerLine:
    """Do the opposite of a line to its locked lot, and return the line that says so."""
    if line.change == 0 and line.verb == Verb.MOVED:
        back = line.from_place_id
        assert back is not None  # noqa: S101 - every move says where from
        lot.place_id = back
        work.session.flush()
        work.session.expire(lot, ["place"])
        return LedgerLine(lot, Verb.UNDONE, 0, line.pieces, 0, back, line.place_id)
    if not change_balance(
        work.session, lot.id, in_hand=-line.change, cost_minor=-line.cost_change_minor
    ):
        raise Conflict(f"bag {lot.id} has just changed; look again")
    return LedgerLine(lot, Verb.UNDONE, -line.change, line.pieces, -line.cost_change_minor)
