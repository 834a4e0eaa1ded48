"""What a need's calculator is given: the pen's readings, what is settled, what the job gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Given, TemplateReading
from sparewell.extend.fields import Value
from sparewell.extend.pen_materials import materials_of
from sparewell.extend.values import ValueRefused, read_value
from sparewell.filling_systems.operations import described, readings_of
from sparewell.fitting.judging import piece_of
from sparewell.fitting.operations import prepare
from sparewell.jobs.held import HeldPiece, held_for
from sparewell.jobs.operations import Cover
from sparewell.jobs.tables import Job, Need
from sparewell.pens.operations import present_readings, value_of
from sparewell.work import Work


def settles(work: Work, need: Need) -> bool:
    """Whether a piece for this need settles readings that other needs are judged by."""
    calculator = work.declared.calculators.get(need.calculator or "")
    return need.is_wanted and calculator is not None and calculator.settles is not None


def settled_readings(work: Work, job: Job, pieces: Sequence[HeldPiece]) -> dict[str, int]:
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


def fills(work: Work, job: Job, need: Need, settled: Mapping[str, int] | None = None) -> int | None:
    """Return how many pieces fill the place of a need, where the pen's readings tell it.

    Only a range is filled: a plain quantity is what somebody asked for.
    """
    calculator = work.declared.calculators.get(need.calculator or "")
    if calculator is None or not (need.is_wanted and need.at_most and calculator.quantity):
        return None
    try:
        run = run_for(work, job, need, settled)
        return None if missing_inputs(run) else run.quantity()
    except (Impossible, Broken):
        return None


def filled(need: Need, cover: Cover, run: Run) -> Cover:
    """Only a range is filled: a plain quantity is what somebody asked for."""
    return cover if need.at_most is None else replace(cover, fills=run.quantity())


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
        settled = settled_beside(work, job, need, settling_pieces(work, job))
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


def run_if_any(work: Work, job: Job, need: Need, settled: Mapping[str, int]) -> Run | None:
    """Return a run of a need's calculator; None where none fits pieces, or takes what is given."""
    calculator = work.declared.calculators.get(need.calculator or "")
    if calculator is None or not calculator.fits_pieces:
        return None
    try:
        return run_for(work, job, need, settled)
    except Impossible:
        return None


def settling_needs(work: Work, job: Job) -> list[Need]:
    """Return the needs of a job whose pieces settle readings."""
    return [need for need in job.needs if settles(work, need)]


def settling_pieces(work: Work, job: Job) -> list[HeldPiece]:
    """Return what a job holds for the needs whose pieces settle readings."""
    needs = settling_needs(work, job)
    return held_for(work.session, needs) if needs else []


def settled_beside(work: Work, job: Job, need: Need, pieces: Sequence[HeldPiece]) -> dict[str, int]:
    """Return what a job's other pieces settle for one need."""
    return settled_readings(work, job, [each for each in pieces if each.need_id != need.id])


def missing_inputs(run: Run) -> tuple[str, ...]:
    """Return the readings without which the calculator cannot start."""
    return tuple(
        wanted.name
        for wanted in run.calculator.inputs
        if wanted.required and wanted.name not in run.inputs
    )
