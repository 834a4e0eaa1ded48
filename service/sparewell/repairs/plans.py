"""The plan of a job: for each need the pieces that would do, the best of them, what is short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Given, TemplateReading
from sparewell.extend.fields import Value
from sparewell.extend.values import ValueRefused, read_value
from sparewell.extend.work import Work
from sparewell.fitting.operations import Fit, fit, prepare
from sparewell.repairs.cautions import Caution, cautions_for
from sparewell.repairs.jobs import Cover, covers
from sparewell.repairs.materials import materials_of
from sparewell.repairs.pens import present_readings, value_of
from sparewell.repairs.tables import Job, Need
from sparewell.repairs.templates import described, readings_of

MOST_CONSIDERED = 200


@dataclass(frozen=True)
class Taking:
    """So many pieces of a lot."""

    lot_id: int
    quantity: int
    verdict: str | None
    why: str


@dataclass(frozen=True)
class NeedPlan:
    """What can be done about one need. `problem` says why nothing could be worked out.

    `readings` are those that would decide and that nobody has taken, and how each is taken.
    """

    need: Need
    cover: Cover
    best: tuple[Taking, ...] = ()
    found: Fit | None = None
    readings: tuple[TemplateReading, ...] = ()
    paired_with: tuple[int, ...] = ()
    problem: str | None = None
    run: Run | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """The names of the readings that are missing."""
        return tuple(reading.name for reading in self.readings)

    @property
    def short(self) -> int:
        """How many pieces are still lacking after the best set."""
        return self.cover.remaining(self.need) - sum(taking.quantity for taking in self.best)


@dataclass(frozen=True)
class Plan:
    """The plan of a whole job."""

    needs: tuple[NeedPlan, ...]
    cautions: tuple[Caution, ...] = field(default_factory=tuple)

    @property
    def complete(self) -> bool:
        """Whether every need that is not optional is decided, and covered or can be."""
        return all(
            plan.short == 0 and plan.cover.state(plan.need) != "undecided"
            for plan in self.needs
            if not plan.need.optional
        )


def plan_job(work: Work, job: Job, *, with_drawings: bool = False) -> Plan:
    """Work out what a job can have. Takes nothing."""
    cover = covers(work.session, [job])
    taken: dict[int, int] = {}
    needs = tuple(
        replace(
            _plan_need(work, job, need, cover[need.id], taken, with_drawings=with_drawings),
            paired_with=paired_with(job, need),
        )
        for need in job.needs
    )
    materials = materials_of(job.pen.materials, job.pen.components)
    cautions = cautions_for(work.declared, materials, job.template["steps"])
    return Plan(needs, tuple(cautions))


def paired_with(job: Job, need: Need) -> tuple[int, ...]:
    """Return the needs that are replaced together with one; those that were dropped are not."""
    return tuple(
        other.id
        for other in job.needs
        if need.together == other.together != "" and other is not need and other.dropped_at is None
    )


def _plan_need(
    work: Work,
    job: Job,
    need: Need,
    cover: Cover,
    taken: dict[int, int],
    *,
    with_drawings: bool,
) -> NeedPlan:
    if not need.is_wanted:
        return NeedPlan(need, cover, problem=_not_wanted(need))
    if need.calculator is None:
        present = present_readings(job.pen)
        lacking = [name for name in need.reads.values() if name not in present]
        readings = readings_for(work, job, lacking)
        return NeedPlan(need, cover, readings=readings, problem=_by_hand(job, need))
    calculator = work.declared.calculators.get(need.calculator)
    if calculator is None or not calculator.fits_pieces:
        return NeedPlan(need, cover, problem=f"the calculator {need.calculator!r} is not loaded")
    try:
        run = run_for(work, job, need)
    except Impossible as refusal:
        return NeedPlan(need, cover, problem=refusal.detail)
    missing = [need.reads.get(name, name) for name in missing_inputs(run)]
    problem = f"readings are missing: {', '.join(missing)}"
    if not missing:
        try:
            found = fit(
                work, run, limit=MOST_CONSIDERED, with_drawing=with_drawings, for_job=job.number
            )
            best = _choose(found, cover.remaining(need), taken)
            return NeedPlan(need, cover, best, found, run=run)
        except (Impossible, Broken) as refusal:
            problem = refusal.detail
            missing = [need.reads.get(name, name) for name in _lacking(run, refusal)]
    readings = readings_for(work, job, missing)
    return NeedPlan(need, cover, readings=readings, problem=problem, run=run)


def _not_wanted(need: Need) -> str:
    if need.dropped_at is not None:
        return f"dropped: {need.dropped_why}"
    most = f" to {need.at_most}" if need.at_most else ""
    return f"decided when the pen is open: {need.quantity}{most}, or none"


def _by_hand(job: Job, need: Need) -> str:
    """Say what to look for where no calculator does, by the readings that there are."""
    present = present_readings(job.pen)
    known = [
        f"{name.replace('_', ' ')} for {reading.replace('_', ' ')} {present[reading].entered}"
        for name, reading in need.reads.items()
        if reading in present
    ]
    sought = f" ({', '.join(known)})" if known else ""
    return f"no calculator sizes it{sought}: name the lot when you reserve"


def _lacking(run: Run, refusal: Impossible | Broken) -> tuple[str, ...]:
    """Return the readings that a refusal points at and that nobody has taken."""
    measured = {each.name for each in run.calculator.inputs if each.measured}
    named = (problem.pointer.removeprefix("/") for problem in refusal.problems)
    return tuple(name for name in named if name in measured and name not in run.inputs)


def readings_for(work: Work, job: Job, names: Sequence[str]) -> tuple[TemplateReading, ...]:
    """Return how readings are taken: as the template says, else as their calculators do."""
    known = readings_of(work.declared, job.template)
    others = described(work.declared, [TemplateReading(name) for name in names])
    return tuple(known.get(name, others[name]) for name in names)


def run_for(work: Work, job: Job, need: Need) -> Run:
    """Return a run of a need's calculator with the pen's readings and what is given.

    A reading goes before what is given, and what is given to the need before what its system gives.
    Raises :class:`Impossible` for what a calculator that has changed does not take any more.
    """
    calculator = work.declared.calculators[need.calculator or ""]
    readings = present_readings(job.pen)
    values: dict[str, Value] = {}
    spreads: dict[str, int] = {}
    given: Mapping[str, Given] = {**job.template["given"], **need.given}
    for described_input in calculator.inputs:
        name = described_input.name
        reading = readings.get(need.reads.get(name, name))
        value = value_of(reading, described_input) if reading is not None else None
        if value is not None and reading is not None:
            values[name] = value
            if reading.spread_nanometres is not None:
                spreads[name] = reading.spread_nanometres
        elif name in given:
            try:
                values[name] = read_value(described_input, given[name]).value
            except ValueRefused as error:
                detail = f"the job gives {name!r} as {given[name]!r}: {error}"
                raise Impossible.at(f"/{name}", detail) from error
    return prepare(work, calculator.name, values, spreads)


def missing_inputs(run: Run) -> tuple[str, ...]:
    """Return the readings without which the calculator cannot start."""
    return tuple(
        wanted.name
        for wanted in run.calculator.inputs
        if wanted.required and wanted.name not in run.inputs
    )


def _choose(found: Fit, wanted: int, taken: dict[int, int]) -> tuple[Taking, ...]:
    """Take the best pieces first; `taken` keeps two needs from counting the same piece."""
    chosen = []
    for candidate in found.candidates:
        if wanted == 0:
            break
        if not candidate.is_taken_by_itself:
            continue
        free = candidate.lot.available - taken.get(candidate.lot.id, 0)
        pieces = min(free, wanted)
        if pieces > 0:
            chosen.append(Taking(candidate.lot.id, pieces, candidate.verdict.value, candidate.why))
            taken[candidate.lot.id] = taken.get(candidate.lot.id, 0) + pieces
            wanted -= pieces
    return tuple(chosen)
