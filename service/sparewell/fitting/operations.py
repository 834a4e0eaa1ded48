"""From a calculator's answer to ranked pieces in hand.

The phases: the envelope is searched; each piece found is judged; what fits is ranked; what does
not is listed with its reason, nearest first; and if need be, what to ask a seller for.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import cast

from sqlalchemy import select

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import NotFound
from sparewell.extend.calculation import Calculation, Run
from sparewell.extend.declarations import Calculator, Envelope, Purchase, Verdict
from sparewell.extend.fields import Value
from sparewell.extend.host import Declarations
from sparewell.extend.values import ReadValue
from sparewell.fitting import at_hand
from sparewell.fitting.judging import Candidate, Judge, RefusedPiece, piece_of, rank
from sparewell.lots import search
from sparewell.lots.tables import Lot
from sparewell.measure.length import length_text
from sparewell.settings.operations import present_values
from sparewell.work import Work

DEFAULT_LIMIT = 20
HIGHEST_LIMIT = 200
MOST_REFUSED = 20


@dataclass(frozen=True)
class Fit:
    """The answer, the pieces that fit best first, the refused, and what to buy.

    `refused` ends early where further pieces were not asked why they would not do. `to_buy` is
    empty while something in hand fits, `purchases` are what would be bought anyway.
    """

    calculation: Calculation
    candidates: Sequence[Candidate]
    refused: Sequence[RefusedPiece]
    to_buy: Sequence[Purchase] = field(default_factory=tuple)
    purchases: Sequence[Purchase] = field(default_factory=tuple)
    refused_ends_early: bool = False


@dataclass(frozen=True)
class ShownCalculator:
    """A calculator, and which plugin it comes from."""

    row: Calculator
    plugin: str

    @property
    def settings(self) -> list[str]:
        """The names of the settings that it may read."""
        return [setting.name for setting in self.row.settings]


def prepare(
    work: Work,
    calculator: str,
    values: Mapping[str, Value],
    spreads: Mapping[str, int],
    *,
    pen_materials: Sequence[str] = (),
    materials: Sequence[str] = (),
) -> Run:
    """Return a run of a calculator with the workshop's present settings.

    `pen_materials` are what the pen is made of, `materials` those its pieces are taken in.
    """
    run = Run(
        work.declared,
        work.declared.calculators[calculator],
        values,
        spreads,
        present_values(work.session, work.declared),
        work.now.date(),
    )
    run.pen_materials, run.materials = pen_materials, materials
    return run


def run_of(
    work: Work, calculator: str, read: Mapping[str, ReadValue], pen_materials: Sequence[str] = ()
) -> Run:
    """Return a run of a calculator with what was read of a request or a form."""
    values = {name: each.value for name, each in read.items()}
    spreads = {name: each.spread for name, each in read.items() if each.spread is not None}
    return prepare(work, calculator, values, spreads, pen_materials=pen_materials)


def find_calculator(declared: Declarations, name: str) -> Calculator:
    """Return a calculator by its name. Raises :class:`NotFound`."""
    calculator = declared.calculators.get(name)
    if calculator is None:
        known = ", ".join(declared.calculators)
        raise NotFound(f"there is no calculator {name!r}; there are {known}")
    return calculator


def fit(
    work: Work,
    run: Run,
    *,
    materials: Collection[str] = (),
    limit: int = DEFAULT_LIMIT,
    with_drawing: bool = True,
    for_job: str | None = None,
) -> Fit:
    """Choose among the pieces in hand. Raises what the calculator raises.

    What `for_job` holds already is neither offered nor refused.
    """
    calculation = run.calculate(with_drawing=with_drawing)
    envelope = run.envelope()
    lead = work.declared.kinds[envelope.kind].led_by
    judge = Judge(work, run, frozenset(material.lower() for material in materials))
    candidates, refused = _sorted_out(work, judge, envelope, lead, for_job)
    held, misses = _promised(work, judge, envelope, for_job)
    refused = [*held, *refused, *misses]
    ends_early = False
    if len(refused) < MOST_REFUSED:
        outside, ends_early = _outside(work, run, envelope, lead)
        refused += outside
    shown, refused = candidates[:limit], refused[:MOST_REFUSED]
    lots = [*(each.lot for each in shown), *(each.lot for each in refused)]
    rows = _rows(work, [lot.id for lot in lots])
    return Fit(
        calculation,
        [replace(each, lot=rows[each.lot.id]) for each in shown],
        [_with_row(each, rows[each.lot.id]) for each in refused],
        () if any(found.is_taken_by_itself for found in candidates) else envelope.to_buy,
        envelope.to_buy,
        ends_early and len(refused) < MOST_REFUSED,
    )


def free_pieces(work: Work, run: Run, *, limit: int, for_job: str | None = None) -> list[Candidate]:
    """Return the free pieces that would do, the best first, and nothing else that `fit` tells."""
    envelope = run.envelope()
    lead = work.declared.kinds[envelope.kind].led_by
    candidates, _ = _sorted_out(work, Judge(work, run), envelope, lead, for_job)
    shown = candidates[:limit]
    rows = _rows(work, [each.lot.id for each in shown])
    return [replace(each, lot=rows[each.lot.id]) for each in shown]


def _sorted_out(
    work: Work, judge: Judge, envelope: Envelope, lead: str, for_job: str | None
) -> tuple[list[Candidate], list[RefusedPiece]]:
    """Return the pieces that would do, the best first, and those that would not, the nearest first.

    What is fixed in a piece and promised to another job keeps it from being had.
    """
    suits, first = judge.suits(envelope.kind), judge.suiting.in_order(envelope.kind)
    found = search.nearest_seen(work.session, envelope, lead, suits, first)
    # What is seen of a lot stands for its row until it is shown.
    lots = cast("list[Lot]", found)
    reach = at_hand.reach(work.session, lots)
    taken_inside = _taken_inside(work, lots, for_job)
    candidates: list[Candidate] = []
    refused: list[RefusedPiece] = []
    for lot in lots:
        judged = judge.judge(lot, reach.get(lot.id, 0))
        if judged.verdict is Verdict.REFUSED:
            refused.append(_refused(judge, judged))
        elif lot.id in taken_inside:
            refused.append(taken_inside[lot.id])
        else:
            candidates.append(judged)
    candidates.sort(key=rank)
    return candidates, refused


def _refused(judge: Judge, judged: Candidate) -> RefusedPiece:
    return RefusedPiece(judged.lot, lambda: judged.why, None, judge.judge_but_for_age(judged))


def _rows(work: Work, lot_ids: Sequence[int]) -> Mapping[int, Lot]:
    """Return the rows of the lots that are shown."""
    statement = select(Lot).where(Lot.id.in_(lot_ids))
    return {lot.id: lot for lot in work.session.scalars(statement).unique()}


def _with_row(refused: RefusedPiece, row: Lot) -> RefusedPiece:
    but_for_age = refused.but_for_age
    if but_for_age is not None:
        but_for_age = replace(but_for_age, lot=row)
    return replace(refused, lot=row, but_for_age=but_for_age)


def _taken_inside(work: Work, lots: Sequence[Lot], for_job: str | None) -> dict[int, RefusedPiece]:
    """Return by lot why it is not to be had: another job has what is fixed in it."""
    refused = {}
    by_id = {lot.id: lot for lot in lots}
    for lot_id, inner, job_id in at_hand.promised_inside(work.session, lots):
        job = number_of(JOB_PREFIX, job_id)
        if job != for_job:
            why = f"bag {inner.id} ({inner.kind}), which is fixed in it, is promised to {job}"
            refused[lot_id] = RefusedPiece(by_id[lot_id], why, job)
    return refused


def _promised(
    work: Work, judge: Judge, envelope: Envelope, for_job: str | None
) -> tuple[list[RefusedPiece], list[RefusedPiece]]:
    """Return what would do and is promised, and what is promised and would not do anyway.

    The reason that lies in the piece is said first: nobody should break a promise for a piece that
    does not fit.
    """
    would_do, would_not = [], []
    found = at_hand.fully_promised(work.session, envelope.kind, envelope.ranges)
    for lot, holders in found:
        jobs = ", ".join(holders)
        if jobs == for_job:
            continue
        every = "its only piece is" if lot.in_hand == 1 else f"all {lot.in_hand} pieces are"
        promised = f"{every} promised to {jobs}"
        judged = judge.judge(lot)
        if judged.verdict is Verdict.REFUSED:
            why = f"{judged.why}; besides, {promised}"
            would_not.append(RefusedPiece(lot, why, jobs or None))
        else:
            would_do.append(RefusedPiece(lot, f"it would do, but {promised}", jobs or None))
    return would_do, would_not


def _outside(
    work: Work, run: Run, envelope: Envelope, lead: str
) -> tuple[list[RefusedPiece], bool]:
    """Return the nearest misses, each with the calculator's own reason where it has one.

    Besides, whether there are more that were not looked at.
    """
    lots, ends_early = search.misses(
        work.session, envelope.kind, lead, envelope.ideal, envelope.ranges
    )
    return [RefusedPiece(lot, _why_outside(run, envelope, lot)) for lot in lots], ends_early


def _why_outside(run: Run, envelope: Envelope, lot: Lot) -> str:
    for name, bounds in envelope.ranges.items():
        spoken, value = name.replace("_", " "), lot.dimensions.get(name)
        if value is None:
            return f"its {spoken} is not known: measure the bag"
        is_low = bounds.low is not None and value < bounds.low
        if is_low or (bounds.high is not None and value > bounds.high):
            judgement = run.judge(piece_of(lot))
            if judgement.verdict is Verdict.REFUSED:
                return run.why(judgement)
            return f"its {spoken} of {length_text(value)} is outside what would fit"
    return run.why(run.judge(piece_of(lot)))
