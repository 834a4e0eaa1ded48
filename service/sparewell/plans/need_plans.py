"""The plan of one need: the pieces that would do, the best of them, what is short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Purchase, TemplateReading
from sparewell.fitting.judging import Candidate
from sparewell.fitting.operations import Fit, fit
from sparewell.jobs.inputs import filled, missing_inputs, readings_for, run_for
from sparewell.jobs.operations import Cover
from sparewell.jobs.tables import Job, Need
from sparewell.pens.operations import present_readings
from sparewell.reservations.promising import Margins
from sparewell.work import Work

MOST_CONSIDERED = 200


@dataclass(frozen=True)
class Taking:
    """So many pieces of a lot."""

    lot_id: int
    quantity: int
    verdict: str | None
    why: str
    margins: Margins | None = None


@dataclass(frozen=True)
class NeedPlan:
    """What can be done about one need. `problem` says why nothing could be worked out.

    A `contradiction` is between pieces that are promised already and do not go together.

    `wanted_by` are the other jobs that want the same pieces.

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
    warnings: tuple[str, ...] = ()
    contradiction: str | None = None
    wanted_by: tuple[str, ...] = ()

    @property
    def missing(self) -> tuple[str, ...]:
        """The names of the readings that are missing."""
        return tuple(reading.name for reading in self.readings)

    @property
    def short(self) -> int:
        """How many pieces are still lacking after the best set."""
        return self.cover.remaining(self.need) - sum(taking.quantity for taking in self.best)

    @property
    def trouble(self) -> str | None:
        """Why nothing could be worked out, or what does not go together."""
        return self.problem or self.contradiction

    @property
    def every_warning(self) -> list[str]:
        """What fills the place, and all that is to be minded of it."""
        own = [self.filling] if self.filling else []
        return [*own, *self.warnings, *(self.found.calculation.warnings if self.found else ())]

    @property
    def to_buy(self) -> Sequence[Purchase]:
        """What to ask a seller for, where pieces are lacking."""
        return self.found.purchases if self.found and self.short else ()

    @property
    def filling(self) -> str | None:
        """How many pieces fill the place, in words, where that is known."""
        if self.run is None or self.cover.fills is None:
            return None
        return f"{self.cover.fills} {self.run.calculator.quantity_says}".strip()


def plan_need(
    work: Work,
    job: Job,
    need: Need,
    cover: Cover,
    taken: dict[int, int],
    settled: Mapping[str, int],
    *,
    with_drawings: bool,
) -> NeedPlan:
    """Work out one need; `taken` are pieces counted already, `settled` readings that stand."""
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
        run = run_for(work, job, need, settled)
    except Impossible as refusal:
        return NeedPlan(need, cover, problem=refusal.detail)
    missing = [need.reads.get(name, name) for name in missing_inputs(run)]
    problem = f"readings are missing: {', '.join(missing)}"
    if not missing:
        try:
            cover = filled(need, cover, run)
            found = fit(
                work, run, limit=MOST_CONSIDERED, with_drawing=with_drawings, for_job=job.number
            )
            best = choose(found.candidates, cover.remaining(need), taken)
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
    return f"no calculator sizes it{sought}: name the bag when you reserve"


def _lacking(run: Run, refusal: Impossible | Broken) -> tuple[str, ...]:
    """Return the readings that a refusal points at and that nobody has taken."""
    measured = {each.name for each in run.calculator.inputs if each.measured}
    named = (problem.pointer.removeprefix("/") for problem in refusal.problems)
    return tuple(name for name in named if name in measured and name not in run.inputs)


def choose(
    candidates: Sequence[Candidate], wanted: int, taken: dict[int, int]
) -> tuple[Taking, ...]:
    """Take the best pieces first; `taken` keeps two needs from counting the same piece."""
    chosen = []
    for candidate in candidates:
        if wanted == 0:
            break
        if not candidate.is_taken_by_itself:
            continue
        free = candidate.lot.available - taken.get(candidate.lot.id, 0)
        pieces = min(free, wanted)
        if pieces > 0:
            verdict, room = candidate.verdict.value, candidate.room
            chosen.append(Taking(candidate.lot.id, pieces, verdict, candidate.why, room))
            taken[candidate.lot.id] = taken.get(candidate.lot.id, 0) + pieces
            wanted -= pieces
    return tuple(chosen)
