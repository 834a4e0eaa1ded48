"""What a plan says of a need beside its best pieces: the answer in short, and what hangs on it.

Nothing here knows a kind of part. What to look for, which other sizes would do and what they cost,
the calculator says; which reading would decide is found by asking it again with that reading at
the bounds of the usual, or at the ends of its spread.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Advice, Envelope, Price, TemplateReading, Verdict
from sparewell.extend.fields import Field, FieldType
from sparewell.filling_systems.operations import readings_of
from sparewell.fitting.judging import Candidate, piece_of
from sparewell.fitting.materials import Suiting
from sparewell.fitting.operations import DEFAULT_LIMIT
from sparewell.jobs.inputs import readings_for
from sparewell.jobs.tables import Job, Need
from sparewell.lots import search
from sparewell.lots.ageing import FitBy, fit_by
from sparewell.lots.conditions import LOOK_FIRST
from sparewell.lots.tables import Lot
from sparewell.measure.length import length_text
from sparewell.pens.operations import present_readings
from sparewell.plans.need_plans import NeedPlan
from sparewell.settings.operations import present_values
from sparewell.work import Work

# In the order of how much they settle.
SETTLES = ANYTHING, PIECE, SIZE = ("anything", "piece", "size")


_MONTHS_A_YEAR = 12


@dataclass(frozen=True)
class Recommendation:
    """The answer in short: what to look for, and what it rests on."""

    look_for: str
    limited_by: str | None = None
    outcome: str | None = None


@dataclass(frozen=True)
class Other:
    """A piece in hand, or a size, that is not the first choice, and what it would cost."""

    what: str
    why: str
    price: Price
    lot: Lot | None = None
    verdict: Verdict | None = None
    fit_by: date | None = None
    months_left: int | None = None
    over_age: bool = False


@dataclass(frozen=True)
class ToOrder:
    """A line of an order: so many of what to ask for; `or_else` says what would do instead."""

    kind: str
    quantity: int
    ask_for: str
    check_on_arrival: str
    or_else: tuple[str, ...] = ()


@dataclass(frozen=True)
class ToMake:
    """So many pieces that a bag of another kind gives: they are made before any are bought."""

    lot: Lot
    pieces: int
    says: str


@dataclass(frozen=True)
class Deciding:
    """A reading that would settle something: missing, or taken and not sure enough."""

    reading: TemplateReading
    settles: str
    is_taken: bool
    why: str

    @property
    def row(self) -> TemplateReading:
        """What is shown of it beside: how it is taken."""
        return self.reading


@dataclass(frozen=True)
class NeedAdvice:
    """What is said of one need beside its best pieces."""

    recommendation: Recommendation | None = None
    substitutes: tuple[Other, ...] = ()
    to_order: tuple[ToOrder, ...] = ()
    to_make: tuple[ToMake, ...] = ()
    would_decide: tuple[Deciding, ...] = ()


def advise(work: Work, job: Job, plan: NeedPlan) -> NeedAdvice:
    """Say of a planned need what to look for, what else would do, what to order, what decides."""
    if not plan.need.is_wanted:
        return NeedAdvice()
    if plan.need.calculator is None:
        return _by_hand(work, job, plan)
    missing = tuple(
        Deciding(reading, ANYTHING, is_taken=False, why="nothing can be said without it")
        for reading in plan.readings
    )
    if plan.found is None or plan.run is None:
        return NeedAdvice(would_decide=missing)
    purchases = plan.found.purchases
    advice = _in_short(plan.run) or Advice(
        purchases[0].ask_for if purchases else f"a {_title(work, plan.need)} as worked out"
    )
    orders: tuple[ToOrder, ...] = ()
    sheets = sheets_for(work, plan.run) if plan.short else ()
    to_make = tuple(made_of(work, plan.run, sheets, plan.short))
    lacking = plan.short - sum(each.pieces for each in to_make)
    if lacking > 0 and purchases:
        first, *others = purchases
        or_else = tuple(other.ask_for.removeprefix("or ") for other in others)
        orders = (ToOrder(plan.need.kind, lacking, first.ask_for, first.check_on_arrival, or_else),)
    return NeedAdvice(
        Recommendation(advice.look_for, advice.limited_by, advice.outcome),
        (
            *_in_hand(work, plan),
            *(Other(each.what, each.why, each.price) for each in advice.substitutes),
        ),
        orders,
        to_make,
        tuple(_would_decide(work, job, plan, plan.run, advice)),
    )


def sheets_for(work: Work, run: Run) -> Sequence[Lot]:
    """Return the bags in hand that a calculator's pieces can be made out of, small ones first."""
    kind = work.declared.kinds.get(run.calculator.made_from)
    return search.nearest(work.session, kind.name, kind.led_by, 0, {}) if kind else ()


def made_of(work: Work, run: Run, sheets: Sequence[Lot], short: int) -> Iterator[ToMake]:
    """Yield the bags out of which the lacking pieces can be made."""
    suiting = Suiting(work.declared, run.pen_materials, run.materials)
    for lot in sheets:
        if short <= 0:
            return
        if suiting.refuses(lot.kind, lot.material):
            continue
        try:
            made = run.make(piece_of(lot))
        except (Impossible, Broken):
            return
        if made is not None:
            pieces = min(short, made.pieces * lot.available)
            yield ToMake(lot, pieces, f"punch {pieces} from bag {lot.id}: {made.says}")
            short -= pieces


def _in_short(run: Run) -> Advice | None:
    try:
        return run.advise()
    except (Impossible, Broken):
        return None


def _title(work: Work, need: Need) -> str:
    kind = work.declared.kinds.get(need.kind)
    return kind.title.lower() if kind else need.kind


def _by_hand(work: Work, job: Job, plan: NeedPlan) -> NeedAdvice:
    """Say what a person should look for, and which pieces of the kind lie nearest to it."""
    need, present = plan.need, present_readings(job.pen)
    sought = [
        f"{name.replace('_', ' ')} for {reading.replace('_', ' ')}"
        + (f" of {present[reading].entered}" if reading in present else ", not measured yet")
        for name, reading in need.reads.items()
    ]
    look_for = f"a {_title(work, need)}" + (": " if sought else "") + "; ".join(sought)
    others = tuple(_shown(work, lot) for lot in nearest_by_hand(work, job, need))
    lacking = plan.short - sum(other.lot.available for other in others if other.lot is not None)
    check = "measure it, and try it in: no calculator sizes it"
    orders = (ToOrder(need.kind, lacking, look_for, check),) if lacking > 0 else ()
    missing = tuple(
        Deciding(reading, SIZE, is_taken=False, why="what to look for is chosen by it")
        for reading in plan.readings
    )
    return NeedAdvice(Recommendation(look_for), others, orders, would_decide=missing)


def nearest_by_hand(work: Work, job: Job, need: Need) -> Sequence[Lot]:
    """Return free pieces of a kind that no calculator judges, by the reading they are chosen by."""
    kind = work.declared.kinds.get(need.kind)
    if kind is None:
        return ()
    reading = present_readings(job.pen).get(need.reads.get(kind.led_by, ""))
    ideal = reading.value_nanometres if reading is not None else None
    found = search.nearest(work.session, kind.name, kind.led_by, ideal or 0, {})
    return found[:DEFAULT_LIMIT]


def _shown(work: Work, lot: Lot) -> Other:
    measured = [
        f"{name.replace('_', ' ')} {length_text(value)}" for name, value in lot.dimensions.items()
    ]
    why = ", ".join(measured) or "it was not measured"
    remark = LOOK_FIRST.get(lot.condition or "")
    said = "; ".join([why, "no calculator judges it", *([remark] if remark else [])])
    age = fit_by(lot, work.declared, present_values(work.session, work.declared))
    return _other(work, lot, said, Price(), None, age)


def _in_hand(work: Work, plan: NeedPlan) -> Iterator[Other]:
    """Yield the pieces in hand that would do and are not the first choice, over age ones last."""
    assert plan.found is not None  # noqa: S101 - asked of planned needs only
    first = {taking.lot_id for taking in plan.best}
    others: Iterable[tuple[Candidate, str]] = (
        *((each, each.why) for each in plan.found.candidates[:DEFAULT_LIMIT]),
        *(
            (each.but_for_age, f"{each.why}; else {each.but_for_age.why}")
            for each in plan.found.refused
            if each.but_for_age is not None
        ),
    )
    for each, why in others:
        if each.lot.id not in first:
            price = _price(plan.run, each.lot)
            yield _other(work, each.lot, why, price, each.verdict, each.fit_by)


def _price(run: Run | None, lot: Lot) -> Price:
    try:
        return run.price(piece_of(lot)) if run else Price()
    except (Impossible, Broken):
        return Price()


def _other(
    work: Work, lot: Lot, why: str, price: Price, verdict: Verdict | None, age: FitBy
) -> Other:
    today = work.now.date()
    return Other(
        f"bag {lot.id} ({lot.part.number if lot.part else lot.kind}) in {lot.place.code}",
        why,
        price,
        lot,
        verdict,
        age.day,
        None if age.day is None else max(0, _months(today, age.day)),
        age.is_past(today),
    )


def _months(start: date, end: date) -> int:
    """Return the whole months from one day to another."""
    months = (end.year - start.year) * _MONTHS_A_YEAR + end.month - start.month
    return months - (end.day < start.day)


def _would_decide(work: Work, job: Job, plan: NeedPlan, run: Run, advice: Advice) -> list[Deciding]:
    """Return the readings that would decide, each once, what settles most first."""
    reads = plan.need.reads
    present = present_readings(job.pen)
    wanted = readings_of(work.declared, job.template)
    first = next(iter(plan.found.candidates), None) if plan.found else None
    probe = _Probe(run, first)
    found: list[tuple[str, str, str]] = []
    for each in run.calculator.inputs:
        name = reads.get(each.name, each.name)
        if name in present:
            found += _each(name, probe.at_the_ends_of_its_spread(each))
        elif name in wanted and each.name not in run.inputs:
            found += _each(name, probe.at_the_bounds_of_the_usual(each))
    found += [
        (reads.get(each.reading, each.reading), SIZE, each.why) for each in advice.measure_again
    ]
    found.sort(key=lambda entry: SETTLES.index(entry[1]))
    once = {name: (settles, why) for name, settles, why in reversed(found)}
    names = list(dict.fromkeys(name for name, *_ in found))
    return [
        Deciding(reading, once[name][0], name in present, once[name][1])
        for name, reading in zip(names, readings_for(work, job, names), strict=True)
    ]


def _each(name: str, told: tuple[str, str] | None) -> list[tuple[str, str, str]]:
    return [] if told is None else [(name, *told)]


class _Probe:
    """Asks a calculator again with one reading changed, and looks what comes of it."""

    def __init__(self, run: Run, first: Candidate | None) -> None:
        self._run, self._first = run, first
        self._envelope = run.envelope()
        self._verdict = run.judge(piece_of(first.lot)).verdict if first else None

    def at_the_bounds_of_the_usual(self, field: Field) -> tuple[str, str] | None:
        """Say what a reading that was not taken would settle, and why."""
        if not field.measured or field.type is not FieldType.LENGTH or field.plausible is None:
            return None
        low, high = field.plausible
        return self._at(field.name, [max(1, low), high], "it was not taken")

    def at_the_ends_of_its_spread(self, field: Field) -> tuple[str, str] | None:
        """Say whether a reading that was taken is sure enough for the piece in hand."""
        value, spread = self._run.inputs.get(field.name), self._run.inputs.spread(field.name)
        if not spread or not isinstance(value, int) or self._first is None:
            return None
        told = self._at(
            field.name, [max(1, value - spread), value + spread], "measure it again, more closely"
        )
        return told if told is not None and told[0] == PIECE else None

    def _at(self, name: str, values: Sequence[int], because: str) -> tuple[str, str] | None:
        moves = False
        verdicts = []
        for value in values:
            try:
                envelope, verdict = self._ask(name, value)
            except (Impossible, Broken):
                continue
            moves = moves or envelope != self._envelope
            if verdict is not self._verdict and verdict is not None:
                verdicts.append((value, verdict))
        if verdicts and self._first is not None:
            told = "; ".join(
                f"at {length_text(value)} bag {self._first.lot.id} would be "
                f"{verdict.value.replace('_', ' ')}"
                for value, verdict in verdicts
            )
            return PIECE, f"{because}: {told}"
        if moves:
            low, high = (length_text(value) for value in values)
            return SIZE, f"{because}: from {low} to {high} it changes what would fit"
        return None

    def _ask(self, name: str, value: int) -> tuple[Envelope, Verdict | None]:
        changed = self._run.changed(**{name: value})
        verdict = changed.judge(piece_of(self._first.lot)).verdict if self._first else None
        return changed.envelope(), verdict
