"""Counting a drawer: a sheet of what should lie in it, and all differences in one act."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import Conflict, Impossible, Problem
from sparewell.handling.freeing import locked_free, promised_problems
from sparewell.handling.operations import taken_line
from sparewell.ledger.operations import record
from sparewell.ledger.tables import Verb
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

MOST_NOT_COUNTED = 500


@dataclass(frozen=True)
class Counted:
    """What was counted of one lot, and what stood there before."""

    lot: Lot
    expected: int
    counted: int

    @property
    def difference(self) -> int:
        """How many more there are than was thought."""
        return self.counted - self.expected


@dataclass(frozen=True)
class Stocktake:
    """The act, each lot counted, and those of the drawer that were not."""

    act_id: int
    counted: tuple[Counted, ...]
    not_counted: Sequence[Lot]


@dataclass(frozen=True)
class PromisedOfLot:
    """To which jobs pieces of a lot are promised, and how many lie in their trays."""

    jobs: tuple[str, ...] = ()
    in_trays: int = 0


@dataclass(frozen=True)
class CountLine:
    """A lot on a sheet for counting, and who holds pieces of it."""

    row: Lot
    held: PromisedOfLot


def count_lines(session: Session, lots: Sequence[Lot]) -> list[CountLine]:
    """Return lots as a sheet for counting shows them."""
    held = held_of(session, lots)
    return [CountLine(lot, held.get(lot.id, PromisedOfLot())) for lot in lots]


@dataclass(frozen=True)
class Lying:
    """How many lots lie in a place, and how many pieces of them are in hand and promised."""

    lots: int = 0
    in_hand: int = 0
    promised: int = 0


def lying_in(session: Session, places: Iterable[Place]) -> Mapping[int, Lying]:
    """Return by place what lies in it; one statement however many places."""
    statement = (
        select(Lot.place_id, func.count(), func.sum(Lot.in_hand), func.sum(Lot.promised))
        .where(Lot.place_id.in_([place.id for place in places]), Lot.in_hand > 0)
        .group_by(Lot.place_id)
    )
    return {place: Lying(*map(int, sums)) for place, *sums in session.execute(statement)}


def lots_in(place: Place) -> Select[Any]:
    """Return the lots that should be found in a place; pieces in trays belong to their drawer."""
    return select(Lot).where(Lot.place_id == place.id, Lot.in_hand > 0)


def held_of(session: Session, lots: Iterable[Lot]) -> Mapping[int, PromisedOfLot]:
    """Return by lot who holds pieces of it; one statement however many lots."""
    statement = (
        select(Reservation)
        .where(Reservation.lot_id.in_([lot.id for lot in lots]), Reservation.promised > 0)
        .order_by(Reservation.id)
    )
    found: dict[int, PromisedOfLot] = {}
    for row in session.scalars(statement):
        held = found.get(row.lot_id, PromisedOfLot())
        jobs = dict.fromkeys((*held.jobs, number_of(JOB_PREFIX, row.job_id)))
        found[row.lot_id] = PromisedOfLot(tuple(jobs), held.in_trays + row.in_tray)
    return found


def count_drawer(
    work: Work,
    drawer: Place,
    counts: Sequence[tuple[int, int]],
    reason: str = "",
    release: Sequence[int] = (),
) -> Stocktake:
    """Set lots of a drawer to what was counted, pieces in trays included: all of it or nothing.

    `counts` are pairs of a lot's id and the pieces counted. What would leave less than is promised
    is refused together, by lot and job.
    """
    lots = _lots_named(work, counts)
    locked = {lot.id: lot for lot in locked_free(work, lots, release)}
    _refuse_elsewhere(drawer, counts, locked)
    _refuse_promised(work, counts, locked)
    counted, lines = [], []
    for lot_id, pieces in sorted(counts):
        lot = locked[lot_id]
        counted.append(Counted(lot, lot.in_hand, pieces))
        lines.append(taken_line(work, lot, Verb.COUNTED, pieces - lot.in_hand))
    movements = record(work, reason, *lines)
    left = lots_in(drawer).where(Lot.id.not_in(locked)).order_by(Lot.id).limit(MOST_NOT_COUNTED)
    not_counted = work.session.scalars(left).unique().all()
    return Stocktake(movements[0].act_id, tuple(counted), not_counted)


def _lots_named(work: Work, counts: Sequence[tuple[int, int]]) -> list[Lot]:
    lots: list[Lot] = []
    problems = []
    seen: set[int] = set()
    for position, (lot_id, _) in enumerate(counts):
        lot = work.session.get(Lot, lot_id)
        if lot is None:
            problems.append(Problem(f"/counts/{position}/lot", f"there is no bag {lot_id}"))
        elif lot_id in seen:
            problems.append(Problem(f"/counts/{position}/lot", f"bag {lot_id} is counted twice"))
        else:
            lots.append(lot)
        seen.add(lot_id)
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return lots


def _refuse_elsewhere(
    drawer: Place, counts: Sequence[tuple[int, int]], lots: Mapping[int, Lot]
) -> None:
    problems = [
        Problem(
            f"/counts/{position}/lot",
            f"bag {lot_id} lies in {lots[lot_id].place.code}; move it, or count it there",
            {"lot": lot_id, "place": lots[lot_id].place.code},
        )
        for position, (lot_id, _) in enumerate(counts)
        if lots[lot_id].place_id != drawer.id
    ]
    if problems:
        raise Conflict(
            f"not all of these lie in {drawer.code}, so nothing was counted: {problems[0].detail}",
            problems,
        )


def _refuse_promised(
    work: Work, counts: Sequence[tuple[int, int]], lots: Mapping[int, Lot]
) -> None:
    problems, sentences = [], []
    for position, (lot_id, pieces) in enumerate(counts):
        lot = lots[lot_id]
        if pieces < lot.promised:
            problems += promised_problems(work, lot, f"/counts/{position}/counted")
            sentences.append(f"bag {lot_id} would have {pieces} and has {lot.promised} promised")
    if problems:
        jobs = sorted({str(problem.more["job"]) for problem in problems})
        raise Conflict(
            f"less than is promised to {', '.join(jobs)}, so nothing was counted: "
            + "; ".join(sentences[:3]),
            problems,
        )
