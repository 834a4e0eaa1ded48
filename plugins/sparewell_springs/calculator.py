"""The calculator `spring`: how strong the old spring is, and how far it bears."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Answer, Calculator, Inputs, rounded
from sparewell_springs import mechanics
from sparewell_springs.band import RateBand, band_of
from sparewell_springs.drawing import drawing
from sparewell_springs.fit import envelope, judge
from sparewell_springs.forces import Bearing, Load, SpringForces, work_of
from sparewell_springs.inputs import INPUTS
from sparewell_springs.kinds import SPRING
from sparewell_springs.materials import SET_SOURCES
from sparewell_springs.notices import CAUTIONS, warnings_of
from sparewell_springs.outputs import OUTPUTS
from sparewell_springs.readings import Spring, spring_of
from sparewell_springs.settings import SPRING_SETTINGS
from sparewell_springs.wording import significant, whole_nanometres
from sparewell_springs.working import working_of

SOURCES: Final = (
    (
        "Rate, ends, stress, Wahl factor, buckling: Shigley's Mechanical Engineering Design, "
        "chapter 10 with Table 10-1; Machinery's Handbook, 31st edition."
    ),
    (
        "Shear moduli: Shigley's Mechanical Engineering Design, Table 10-5; those of "
        "chrome-silicon, phosphor bronze, beryllium copper and brass from memory."
    ),
    *(f"Wire strength, set {name}: {source}." for name, source in SET_SOURCES.items()),
    "What counts as the like, clearances, uncertainty of readings: common practice, no source.",
)


def compute(inputs: Inputs) -> Answer:
    """Answer what the old spring does; raise ImpossibleInput where readings contradict."""
    spring = spring_of(inputs)
    band = band_of(inputs, spring)
    work = work_of(inputs, spring)
    result = {
        **_rate_members(spring, band, work),
        **_size_members(spring),
        "forces": [_load_members(load, work) for load in work.loads],
        "force_solid_n": _number(work.solid_force),
        "stress_solid_mpa": _number(work.solid_stress_mpa),
        "strength": [_bearing_members(bearing) for bearing in work.bearings],
        "working": working_of(inputs, spring, band, work),
    }
    return Answer(result=result, warnings=warnings_of(inputs, spring, work), cautions=CAUTIONS)


def _number(value: Fraction | None) -> object:
    """Return six significant digits, or null."""
    return None if value is None else significant(value)


def _rate_members(spring: Spring, band: RateBand, work: SpringForces) -> Mapping[str, object]:
    """Return the rate and what goes with it."""
    return {
        "rate_n_per_mm": significant(work.rate),
        "rate_band_n_per_mm": {"min": significant(band.least), "max": _number(band.most)},
        "rate_with_direct_shear_n_per_mm": significant(
            mechanics.rate_with_direct_shear(work.rate, spring.index)
        ),
        "spring_index": rounded(spring.index, 4),
        "wahl_factor": rounded(work.wahl, 5),
        "curvature_factor": rounded(work.curvature, 5),
        "shear_modulus_gpa": significant(spring.shear_modulus_gpa),
    }


def _size_members(spring: Spring) -> Mapping[str, object]:
    """Return the spring's sizes."""
    free, solid = spring.free_nanometres, spring.solid_nanometres
    pitch = travel = buckling = None
    if free is not None:
        travel = max(0, whole_nanometres(free - solid))
        pitch = max(
            0,
            whole_nanometres(
                spring.end.pitch_nanometres(free, spring.wire_nanometres, spring.active_coils)
            ),
        )
    if spring.material.is_steel:
        buckling = whole_nanometres(
            mechanics.buckling_length(spring.mean) * NANOMETRES_PER_MILLIMETRE
        )
    return {
        "wire_diameter": spring.wire_nanometres,
        "mean_diameter": spring.mean_nanometres,
        "outside_diameter": spring.outside_nanometres,
        "inside_diameter": spring.inside_nanometres,
        "active_coils": significant(spring.active_coils),
        "total_coils": significant(spring.total_coils),
        "ends": spring.end.name,
        "material": spring.material.name,
        "solid_length": whole_nanometres(solid),
        "free_length": free,
        "pitch": pitch,
        "travel": travel,
        "buckling_length": buckling,
    }


def _load_members(load: Load, work: SpringForces) -> Mapping[str, object]:
    """Return one length as the result carries it."""
    share = work.share_of_yield_percent(load.stress_mpa)
    return {
        "at": load.name,
        "length": load.length_nanometres,
        "deflection": load.deflection_nanometres,
        "force_n": _number(load.force),
        "stress_mpa": _number(load.stress_mpa),
        "yield_percent": None if share is None else rounded(share, 1),
        "solid": load.is_solid,
    }


def _bearing_members(bearing: Bearing) -> Mapping[str, object]:
    """Return what the wire bears by one set."""
    return {
        "set": bearing.strength.set_name,
        "source": SET_SOURCES[bearing.strength.set_name],
        "tensile_mpa": rounded(bearing.strength.tensile_mpa, 1),
        "yield_shear_mpa": rounded(bearing.yield_mpa, 1),
        "in_range": bearing.strength.in_range,
        "force_at_yield_n": significant(bearing.force_at_yield),
        "force_at_yield_by_curvature_n": significant(bearing.force_at_yield_by_curvature),
        "longest_free_length": whole_nanometres(bearing.longest_free_nanometres),
        "share_at_solid_percent": None
        if bearing.share_at_solid_percent is None
        else rounded(bearing.share_at_solid_percent, 1),
    }


SPRING_CALCULATOR: Final = Calculator(
    name=SPRING,
    title="Coil spring",
    help="What a measured spring does: its rate, its forces, its stress; and what replaces it.",
    inputs=INPUTS,
    outputs=OUTPUTS,
    headline=("rate_n_per_mm", "spring_index"),
    asks_first=("wire_diameter", "outside_diameter", "total_coils", "free_length", "material"),
    compute=compute,
    sources=SOURCES,
    settings=SPRING_SETTINGS,
    kind=SPRING,
    envelope=envelope,
    judge=judge,
    drawing=drawing,
)
