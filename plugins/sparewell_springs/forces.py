"""The old spring at work: forces, stresses, and what the wire bears by each set of constants."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Inputs
from sparewell_springs import mechanics
from sparewell_springs.band import rate_of
from sparewell_springs.materials import Strength
from sparewell_springs.readings import Spring, lengths_of


@dataclass(frozen=True)
class Load:
    """The spring pressed to one length. Solid before it gets there: no force is said."""

    name: str
    length_nanometres: int
    deflection_nanometres: int
    force: Fraction | None
    stress_mpa: Fraction | None

    @property
    def is_solid(self) -> bool:
        """Whether the spring is solid before it is as short as that."""
        return self.force is None


@dataclass(frozen=True)
class Bearing:
    """What the wire bears by one set: newtons and megapascals, with the Wahl factor."""

    strength: Strength
    yield_mpa: Fraction
    force_at_yield: Fraction
    force_at_yield_by_curvature: Fraction
    longest_free_nanometres: Fraction
    share_at_solid_percent: Fraction | None


@dataclass(frozen=True)
class SpringForces:
    """Everything that follows from the spring, exactly."""

    rate: Fraction
    wahl: Fraction
    curvature: Fraction
    loads: tuple[Load, ...]
    solid_force: Fraction | None
    solid_stress_mpa: Fraction | None
    bearings: tuple[Bearing, ...]

    @property
    def lowest_yield_mpa(self) -> Fraction | None:
        """Return the yield in torsion by the more cautious of the sets that cover the wire."""
        found = (bearing.yield_mpa for bearing in self.bearings if bearing.strength.in_range)
        return min(found, default=None)

    def share_of_yield_percent(self, stress_mpa: Fraction | None) -> Fraction | None:
        """Return a stress as a share of that yield, or None where either is not known."""
        lowest = self.lowest_yield_mpa
        if stress_mpa is None or not lowest:
            return None
        return 100 * stress_mpa / lowest

    @property
    def worst_share_percent(self) -> Fraction | None:
        """Return the stress of the solid spring as a share of that yield."""
        return self.share_of_yield_percent(self.solid_stress_mpa)


def work_of(inputs: Inputs, spring: Spring) -> SpringForces:
    """Return forces and stresses."""
    rate = rate_of(spring)
    wahl = mechanics.wahl_factor(spring.index)
    solid_force = None
    if spring.free_nanometres is not None:
        travel = max(Fraction(0), spring.free_nanometres - spring.solid_nanometres)
        solid_force = rate * travel / NANOMETRES_PER_MILLIMETRE
    solid_stress = None if solid_force is None else _stress(spring, solid_force, wahl)
    return SpringForces(
        rate=rate,
        wahl=wahl,
        curvature=mechanics.curvature_factor(spring.index),
        loads=tuple(_loads(inputs, spring, rate, wahl)),
        solid_force=solid_force,
        solid_stress_mpa=solid_stress,
        bearings=_bearings(inputs, spring, rate, wahl, solid_stress),
    )


def _loads(inputs: Inputs, spring: Spring, rate: Fraction, wahl: Fraction) -> list[Load]:
    """Return the spring at each length asked about; nothing without its free length."""
    free = spring.free_nanometres
    if free is None:
        return []
    loads = []
    for name, length in lengths_of(inputs):
        deflection = free - length
        force = stress = None
        if length >= spring.solid_nanometres:
            force = rate * deflection / NANOMETRES_PER_MILLIMETRE
            stress = _stress(spring, force, wahl)
        loads.append(Load(name, length, deflection, force, stress))
    return loads


def _bearings(
    inputs: Inputs, spring: Spring, rate: Fraction, wahl: Fraction, solid_stress: Fraction | None
) -> tuple[Bearing, ...]:
    """Return what the wire bears by each set that knows it."""
    share = inputs.setting_number("spring.yield_share") / 100
    found = []
    for strength in spring.material.strengths(spring.wire_nanometres):
        yield_mpa = share * strength.tensile_mpa
        force, by_curvature = (
            mechanics.force_at_stress(
                stress=yield_mpa, wire=spring.wire, mean=spring.mean, factor=factor
            )
            for factor in (wahl, mechanics.curvature_factor(spring.index))
        )
        longest = spring.solid_nanometres + force / rate * NANOMETRES_PER_MILLIMETRE
        at_solid = None
        if solid_stress is not None and yield_mpa:
            at_solid = 100 * solid_stress / yield_mpa
        found.append(Bearing(strength, yield_mpa, force, by_curvature, longest, at_solid))
    return tuple(found)


def _stress(spring: Spring, force: Fraction, factor: Fraction) -> Fraction:
    """Return the shear stress in megapascals."""
    return mechanics.shear_stress(force=force, wire=spring.wire, mean=spring.mean, factor=factor)
