"""The plan of one need: the pieces that would do, the best of them, what is short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Given, TemplateReading
from sparewell.extend.fields import Value
from sparewell.extend.pen_materials import materials_of
from sparewell.extend.values import ValueRefused, read_value
from sparewell.extend.work import Work
from sparewell.fitting.operations import Candidate, Fit, fit, piece_of, prepare
from sparewell.repairs.held import Held, held
from sparewell.repairs.jobs import Cover
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

    A `contradiction` is between pieces that are promised already and do not go together.

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

    @property
    def missing(self) -> tuple[str, ...]:
        """The names of the readings that are missing."""
        return tuple(reading.name for reading in self.readings)

    @property
    def short(self) -> int:
        """How many pieces are still lacking after the best set."""
        return self.cover.remaining(self.need) - sum(taking.quantity for taking in self.best)

    @property
    def filling(self) -> str | None:
        """How many pieces fill the place, in words, where that is known."""
        if self.run is None or self.cover.fills is None:
            return None
        return f"{self.cover.fills} {self.run.calculator.quantity_says}".strip()


def settles(work: Work, need: Need) -> bool:
    """Whether a piece for this need settles readings that other needs are judged by."""
    calculator = work.declared.calculators.get(need.calculator or "")
    return need.is_wanted and calculator is not None and calculator.settles is not None


def settled_readings(work: Work, job: Job, pieces: Sequence[Held]) -> dict[str, int]:
    """Return the readings that pieces which the job holds settle: how high its new bar stands."""
    found: dict[str, int] = {}
    for need in job.needs:
        if not settles(work, need):
            continue
        lots = [each.lot for each in pieces if each.need_id == need.id]
        if lots:
            try:
                run = run_for(work, job, need, {})
                for lot in lots:
                    found.update(run.settles(piece_of(lot)))
            except (Impossible, Broken):
                continue
    return found


def paired_with(job: Job, need: Need) -> tuple[int, ...]:
    """Return the needs that are replaced together with one; those that were dropped are not."""
    return tuple(
        other.id
        for other in job.needs
        if need.together == other.together != "" and other is not need and other.dropped_at is None
    )


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
            cover = _filled(need, cover, run)
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


def cover_filled(work: Work, job: Job, need: Need, cover: Cover) -> Cover:
    """Return what covers a need, with how many fill its place where the pen's readings tell it."""
    calculator = work.declared.calculators.get(need.calculator or "")
    if calculator is None or not (need.is_wanted and need.at_most and calculator.quantity):
        return cover
    try:
        run = run_for(work, job, need)
        return cover if missing_inputs(run) else _filled(need, cover, run)
    except (Impossible, Broken):
        return cover


def _filled(need: Need, cover: Cover, run: Run) -> Cover:
    """Only a range is filled: a plain quantity is what somebody asked for."""
    return cover if need.at_most is None else replace(cover, fills=run.quantity())


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


def run_for(work: Work, job: Job, need: Need, settled: Mapping[str, int] | None = None) -> Run:
    """Return a run of a need's calculator with the pen's readings and what is given.

    What pieces that the job holds have settled goes before the reading it replaces; a reading goes
    before what is given, and what is given to the need before what its system gives.
    Raises :class:`Impossible` for what a calculator that has changed does not take any more.
    """
    calculator = work.declared.calculators[need.calculator or ""]
    if settled is None:
        settled = _settled_for(work, job, need)
    readings = present_readings(job.pen)
    values: dict[str, Value] = {}
    spreads: dict[str, int] = {}
    given: Mapping[str, Given] = {**job.template["given"], **need.given}
    for described_input in calculator.inputs:
        name = described_input.name
        if need.reads.get(name, name) in settled:
            values[name] = settled[need.reads.get(name, name)]
            continue
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
    return prepare(
        work,
        calculator.name,
        values,
        spreads,
        pen_materials=materials_of(job.pen.materials, job.pen.components),
        materials=need.materials,
    )


def _settled_for(work: Work, job: Job, need: Need) -> dict[str, int]:
    """Return what the job's other pieces settle; without any that could, nothing is looked up."""
    if not any(settles(work, other) for other in job.needs if other is not need):
        return {}
    others = [each for each in held(work.session, [job]) if each.need_id != need.id]
    return settled_readings(work, job, others)


def missing_inputs(run: Run) -> tuple[str, ...]:
    """Return the readings without which the calculator cannot start."""
    return tuple(
        wanted.name
        for wanted in run.calculator.inputs
        if wanted.required and wanted.name not in run.inputs
    )


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
            chosen.append(Taking(candidate.lot.id, pieces, candidate.verdict.value, candidate.why))
            taken[candidate.lot.id] = taken.get(candidate.lot.id, 0) + pieces
            wanted -= pieces
    return tuple(chosen)
