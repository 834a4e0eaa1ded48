"""From a calculator's answer to ranked pieces in hand.

The phases: the envelope is searched; each piece found is judged; what fits is ranked; what does
not is listed with its reason, nearest first; and if need be, what to ask a seller for.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from sqlalchemy import ColumnElement, and_, func, true

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import NotFound
from sparewell.extend.calculation import Calculation, Run
from sparewell.extend.declarations import (
    Calculator,
    Envelope,
    Judgement,
    Piece,
    Purchase,
    Verdict,
)
from sparewell.extend.fields import Value
from sparewell.extend.host import Declarations
from sparewell.extend.values import ReadValue
from sparewell.fitting import at_hand
from sparewell.fitting.materials import Suiting
from sparewell.lots import search
from sparewell.lots.ageing import FitBy, fit_by, in_date
from sparewell.lots.claims import basis, spreads
from sparewell.lots.conditions import LOOK_FIRST, Condition
from sparewell.lots.tables import Lot
from sparewell.measure.length import length_text
from sparewell.reservations import operations as reservations
from sparewell.settings.operations import present_values
from sparewell.work import Work

DEFAULT_LIMIT = 20
HIGHEST_LIMIT = 200
MOST_REFUSED = 20
MEASURED = "measured"
_ORDER = {verdict: position for position, verdict in enumerate(Verdict)}
# A piece that would sit loose has to be asked for by name.
TAKEN_BY_ITSELF = (Verdict.FITS, Verdict.TRY_IN, Verdict.TIGHT)


@dataclass(frozen=True)
class Candidate:
    """A piece in hand that would do, and how well."""

    lot: Lot
    verdict: Verdict
    basis: str
    margins: Mapping[str, int | Decimal]
    why: str
    preference: int
    fit_by: FitBy
    reach: int = 0  # a drawer before a donor already broken into, that before a whole one
    is_recommended: bool = False
    is_taken_unasked: bool = True
    material_rank: int = 0  # by the order in which the need takes materials

    @property
    def is_taken_by_itself(self) -> bool:
        """Whether a plan may count on it; nobody knows yet that an unchecked piece is there."""
        return (
            self.verdict in TAKEN_BY_ITSELF
            and self.lot.condition != Condition.UNCHECKED
            and self.is_taken_unasked
        )

    @property
    def is_first_choice(self) -> bool:
        """Whether it is what the answer recommends, and lies in a drawer to be taken."""
        return self.is_recommended and self.is_taken_by_itself and self.reach == 0


@dataclass(frozen=True)
class RefusedPiece:
    """A piece in hand that would not do, and why; `job` has it, if it is promised.

    `but_for_age` is what would be said of one that is refused for nothing but its age.
    """

    lot: Lot
    why: str
    job: str | None = None
    but_for_age: Candidate | None = None


@dataclass(frozen=True)
class Fit:
    """The answer, the pieces that fit best first, the refused, and what to buy.

    `to_buy` is empty while something in hand fits, `purchases` are what would be bought anyway.
    """

    calculation: Calculation
    candidates: Sequence[Candidate]
    refused: Sequence[RefusedPiece]
    to_buy: Sequence[Purchase] = field(default_factory=tuple)
    purchases: Sequence[Purchase] = field(default_factory=tuple)


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
    wanted = frozenset(material.lower() for material in materials)
    settings = present_values(work.session, work.declared)
    candidates: list[Candidate] = []
    refused: list[RefusedPiece] = []
    suiting = _suiting(work, run)
    lots = search.nearest(
        work.session,
        envelope.kind,
        lead,
        envelope.ideal,
        envelope.ranges,
        suits=and_(
            in_date(work.now.date(), work.declared, settings),
            suiting.may_come_near(envelope.kind),
            _is_of(wanted),
        ),
        first=suiting.in_order(envelope.kind),
    )
    reach = at_hand.reach(work.session, lots)
    taken_inside = _taken_inside(work, lots, for_job)
    for lot in lots:
        age = fit_by(lot, work.declared, settings)
        judgement = _judged(run, suiting, lot, wanted, age, work.now.date())
        if judgement.verdict is Verdict.REFUSED:
            but_for_age = None
            if age.is_past(work.now.date()):
                but_for_age = _but_for_age(run, suiting, lot, wanted, lead, age)
            refused.append(RefusedPiece(lot, judgement.why, but_for_age=but_for_age))
        elif lot.id in taken_inside:
            refused.append(taken_inside[lot.id])
        else:
            found = _candidate(lot, lead, suiting, judgement, age)
            candidates.append(replace(found, reach=reach.get(lot.id, 0)))
    candidates.sort(key=_rank)
    held, misses = _promised(work, run, suiting, envelope, for_job, wanted)
    refused = [*held, *refused, *misses]
    if len(refused) < MOST_REFUSED:
        refused += _outside(work, run, envelope, lead)
    return Fit(
        calculation,
        candidates[:limit],
        refused[:MOST_REFUSED],
        () if any(found.is_taken_by_itself for found in candidates) else envelope.to_buy,
        envelope.to_buy,
    )


def judge_lot(work: Work, run: Run, lot: Lot) -> Candidate:
    """Return the verdict on one named lot, whatever it is."""
    lead = work.declared.kinds[lot.kind].led_by
    age = fit_by(lot, work.declared, present_values(work.session, work.declared))
    suiting = _suiting(work, run)
    judgement = _judged(run, suiting, lot, frozenset(), age, work.now.date())
    return _candidate(lot, lead, suiting, judgement, age)


def _suiting(work: Work, run: Run) -> Suiting:
    return Suiting(work.declared, run.pen_materials, run.materials)


def piece_of(lot: Lot) -> Piece:
    """Return what a calculator is told of a lot."""
    return Piece(
        kind=lot.kind,
        dimensions=lot.dimensions,
        basis=basis(lot),
        material=lot.material,
        material_confidence=lot.material_confidence,
        label=lot.label,
        attributes=lot.attributes,
        spreads=spreads(lot),
    )


def _but_for_age(
    run: Run, suiting: Suiting, lot: Lot, wanted: frozenset[str], lead: str, age: FitBy
) -> Candidate | None:
    """Return what would be said of a piece that is over age, were it not."""
    judgement = _judged(run, suiting, lot, wanted, FitBy(None), date.min)
    if judgement.verdict is Verdict.REFUSED:
        return None
    return _candidate(lot, lead, suiting, judgement, age)


def _judged(
    run: Run, suiting: Suiting, lot: Lot, wanted: frozenset[str], age: FitBy, today: date
) -> Judgement:
    if wanted and (lot.material or "unknown").lower() not in wanted:
        return Judgement(
            Verdict.REFUSED,
            f"it is of {lot.material or 'unknown material'}, and {', '.join(sorted(wanted))} "
            "is wanted",
        )
    if age.is_past(today):
        since = "its making" if age.counted_from == "made_on" else "its arrival"
        return Judgement(
            Verdict.REFUSED,
            f"over age: {lot.material} counted from {since} should have been fitted by {age.day} "
            f"(scheme {age.scheme})",
        )
    judgement = _with_condition(lot, run.judge(piece_of(lot)))
    return suiting.with_material(judgement, lot.kind, lot.material)


def _is_of(wanted: frozenset[str]) -> ColumnElement[bool]:
    """Return the condition that a piece is of a material that is asked for, if any is."""
    if not wanted:
        return true()
    return func.lower(func.coalesce(func.nullif(Lot.material, ""), "unknown")).in_(wanted)


def _with_condition(lot: Lot, judgement: Judgement) -> Judgement:
    """Lower the verdict on a piece that has to be looked at before anything is said of it."""
    remark = LOOK_FIRST.get(lot.condition or "")
    if remark is None or judgement.verdict is Verdict.REFUSED:
        return judgement
    verdict = Verdict.TRY_IN if judgement.verdict is Verdict.FITS else judgement.verdict
    return replace(judgement, verdict=verdict, why=f"{judgement.why}; {remark}")


def _candidate(
    lot: Lot, lead: str, suiting: Suiting, judgement: Judgement, age: FitBy
) -> Candidate:
    return Candidate(
        lot,
        judgement.verdict,
        basis(lot).get(lead, "nominal"),
        judgement.margins,
        judgement.why,
        judgement.preference,
        age,
        is_recommended=judgement.is_recommended,
        is_taken_unasked=judgement.is_taken_unasked
        and suiting.is_taken_unasked(lot.kind, lot.material),
        material_rank=suiting.rank(lot.kind, lot.material),
    )


def _rank(
    candidate: Candidate,
) -> tuple[bool, int, bool, int, bool, int, int, bool, date, date, int]:
    """Return what puts the recommended first, then the better, the nearer, and the sooner due.

    The material comes before all of it, but a loose piece goes behind those that hold.
    """
    return (
        candidate.verdict is Verdict.LOOSE,
        candidate.material_rank,
        not candidate.is_first_choice,
        _ORDER[candidate.verdict],
        candidate.lot.condition == Condition.UNCHECKED,
        candidate.preference,
        candidate.reach,
        candidate.basis != MEASURED,
        candidate.fit_by.day or date.max,
        candidate.lot.made_from or date.max,
        candidate.lot.id,
    )


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
    work: Work,
    run: Run,
    suiting: Suiting,
    envelope: Envelope,
    for_job: str | None,
    wanted: frozenset[str],
) -> tuple[list[RefusedPiece], list[RefusedPiece]]:
    """Return what would do and is promised, and what is promised and would not do anyway.

    The reason that lies in the piece is said first: nobody should break a promise for a piece that
    does not fit.
    """
    would_do, would_not = [], []
    settings = present_values(work.session, work.declared)
    for lot in at_hand.fully_promised(work.session, envelope.kind, envelope.ranges):
        holders = reservations.open_on(work.session, lot.id)
        jobs = ", ".join(dict.fromkeys(holder.job for holder in holders))
        if jobs == for_job:
            continue
        every = "its only piece is" if lot.in_hand == 1 else f"all {lot.in_hand} pieces are"
        promised = f"{every} promised to {jobs}"
        age = fit_by(lot, work.declared, settings)
        judgement = _judged(run, suiting, lot, wanted, age, work.now.date())
        if judgement.verdict is Verdict.REFUSED:
            would_not.append(
                RefusedPiece(lot, f"{judgement.why}; besides, {promised}", jobs or None)
            )
        else:
            would_do.append(RefusedPiece(lot, f"it would do, but {promised}", jobs or None))
    return would_do, would_not


def _outside(work: Work, run: Run, envelope: Envelope, lead: str) -> list[RefusedPiece]:
    """Return the nearest misses, each with the calculator's own reason where it has one."""
    return [
        RefusedPiece(lot, _why_outside(run, envelope, lot))
        for lot in search.misses(work.session, envelope.kind, lead, envelope.ideal, envelope.ranges)
    ]


def _why_outside(run: Run, envelope: Envelope, lot: Lot) -> str:
    for name, bounds in envelope.ranges.items():
        spoken, value = name.replace("_", " "), lot.dimensions.get(name)
        if value is None:
            return f"its {spoken} is not known: measure the bag"
        is_low = bounds.low is not None and value < bounds.low
        if is_low or (bounds.high is not None and value > bounds.high):
            judgement = run.judge(piece_of(lot))
            if judgement.verdict is Verdict.REFUSED:
                return judgement.why
            return f"its {spoken} of {length_text(value)} is outside what would fit"
    return run.judge(piece_of(lot)).why
