"""The plan of a job: for each need the pieces that would do, the best of them, what is short."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.fields import Value
from sparewell.extend.values import read_value
from sparewell.extend.work import Work
from sparewell.fitting.operations import TAKEN_BY_ITSELF, Fit, fit, prepare
from sparewell.repairs.cautions import Caution, cautions_for
from sparewell.repairs.jobs import Cover, covers
from sparewell.repairs.pens import present_readings, value_of
from sparewell.repairs.tables import Job, Need

MOST_CONSIDERED = 200


@dataclass(frozen=True)
class Taking:
    """So many pieces of a lot."""

    lot_id: int
    quantity: int
    verdict: str
    why: str


@dataclass(frozen=True)
class NeedPlan:
    """What can be done about one need. `problem` says why nothing could be worked out."""

    need: Need
    cover: Cover
    best: tuple[Taking, ...] = ()
    found: Fit | None = None
    missing: tuple[str, ...] = ()
    problem: str | None = None

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
        """Whether every need that is not optional is covered or can be."""
        return all(plan.short == 0 for plan in self.needs if not plan.need.optional)


def plan_job(work: Work, job: Job, *, with_drawings: bool = False) -> Plan:
    """Work out what a job can have. Takes nothing."""
    cover = covers(work.session, [job])
    taken: dict[int, int] = {}
    needs = tuple(
        _plan_need(work, job, need, cover[need.id], taken, with_drawings=with_drawings)
        for need in job.needs
    )
    cautions = cautions_for(work.declared, job.pen.materials, job.template["steps"])
    return Plan(needs, tuple(cautions))


def _plan_need(
    work: Work,
    job: Job,
    need: Need,
    cover: Cover,
    taken: dict[int, int],
    *,
    with_drawings: bool,
) -> NeedPlan:
    if need.calculator is None:
        return NeedPlan(
            need, cover, problem="no calculator sizes it: name the lot when you reserve"
        )
    calculator = work.declared.calculators.get(need.calculator)
    if calculator is None or not calculator.fits_pieces:
        return NeedPlan(need, cover, problem=f"the calculator {need.calculator!r} is not loaded")
    run = run_for(work, job, need.calculator)
    missing = missing_inputs(run)
    if missing:
        return NeedPlan(
            need,
            cover,
            missing=missing,
            problem=f"readings are missing: {', '.join(missing)}",
        )
    try:
        found = fit(
            work, run, limit=MOST_CONSIDERED, with_drawing=with_drawings, for_job=job.number
        )
    except (Impossible, Broken) as refusal:
        return NeedPlan(need, cover, problem=refusal.detail)
    best = _choose(found, cover.remaining(need), taken)
    return NeedPlan(need, cover, best, found)


def run_for(work: Work, job: Job, calculator: str) -> Run:
    """Return a run of a calculator with the pen's readings and what its system gives."""
    inputs = work.declared.calculators[calculator].inputs
    readings = present_readings(job.pen)
    values: dict[str, Value] = {}
    spreads: dict[str, int] = {}
    given: Mapping[str, str] = job.template["given"]
    for described in inputs:
        reading = readings.get(described.name)
        value = value_of(reading, described) if reading is not None else None
        if value is not None and reading is not None:
            values[described.name] = value
            if reading.spread_nanometres is not None:
                spreads[described.name] = reading.spread_nanometres
        elif described.name in given:
            values[described.name] = read_value(described, given[described.name]).value
    return prepare(work, calculator, values, spreads)


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
        if candidate.verdict not in TAKEN_BY_ITSELF:
            continue
        free = candidate.lot.available - taken.get(candidate.lot.id, 0)
        pieces = min(free, wanted)
        if pieces > 0:
            chosen.append(Taking(candidate.lot.id, pieces, candidate.verdict.value, candidate.why))
            taken[candidate.lot.id] = taken.get(candidate.lot.id, 0) + pieces
            wanted -= pieces
    return tuple(chosen)
