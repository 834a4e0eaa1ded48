"""From the inputs to the old spring, refusing what cannot be true together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from sparewell.plugin import (
    NANOMETRES_PER_MILLIMETRE,
    ImpossibleInput,
    Inputs,
    length_text,
    millimetres_text,
    number_text,
    worked_out_once,
)
from sparewell_springs.ends import ENDS, End
from sparewell_springs.materials import WIRES, Wire


@dataclass(frozen=True)
class Spring:
    """The old spring. Lengths in nanometres; no free length: no forces."""

    wire_nanometres: int
    mean_nanometres: int
    diameter_name: str  # which reading gave the coil
    active_coils: Fraction
    total_coils: Fraction
    end: End
    ends_given: bool
    material: Wire
    material_given: bool
    shear_modulus_gpa: Fraction
    free_nanometres: int | None

    @property
    def outside_nanometres(self) -> int:
        """Return the outside diameter of the coil."""
        return self.mean_nanometres + self.wire_nanometres

    @property
    def inside_nanometres(self) -> int:
        """Return the inside diameter of the coil."""
        return self.mean_nanometres - self.wire_nanometres

    @property
    def wire(self) -> Fraction:
        """Return the wire in millimetres."""
        return Fraction(self.wire_nanometres, NANOMETRES_PER_MILLIMETRE)

    @property
    def mean(self) -> Fraction:
        """Return the mean diameter in millimetres."""
        return Fraction(self.mean_nanometres, NANOMETRES_PER_MILLIMETRE)

    @property
    def index(self) -> Fraction:
        """Return the spring index: mean diameter over wire."""
        return Fraction(self.mean_nanometres, self.wire_nanometres)

    @property
    def solid_nanometres(self) -> Fraction:
        """Return the length at which every coil touches the next."""
        return self.end.solid_nanometres(self.wire_nanometres, self.total_coils)


@worked_out_once
def spring_of(inputs: Inputs) -> Spring:
    """Return the old spring, or raise ImpossibleInput."""
    wire = inputs.length("wire_diameter")
    if wire is None:
        raise ImpossibleInput(("wire_diameter", "The wire's diameter is needed."))
    mean, name = _mean_of(inputs, wire)
    end, ends_given = _end_of(inputs)
    active, total = _coils_of(inputs, end)
    given_material = inputs.text("material")
    material = WIRES[given_material or inputs.setting_text("spring.material")]
    modulus = inputs.number("shear_modulus_gpa")
    if modulus is None:
        modulus = material.shear_modulus_gpa(wire)
    spring = Spring(
        wire_nanometres=wire,
        mean_nanometres=mean,
        diameter_name=name,
        active_coils=active,
        total_coils=total,
        end=end,
        ends_given=ends_given,
        material=material,
        material_given=given_material is not None,
        shear_modulus_gpa=modulus,
        free_nanometres=inputs.length("free_length"),
    )
    problems = (*_problems_of_length(inputs, spring), *_problems_of_place(inputs))
    if problems:
        raise ImpossibleInput(*problems)
    return spring


def _mean_of(inputs: Inputs, wire: int) -> tuple[int, str]:
    """Return the mean diameter and the reading it comes from; two that disagree are refused."""
    outside, mean = inputs.length("outside_diameter"), inputs.length("mean_diameter")
    if outside is None and mean is None:
        raise ImpossibleInput(
            ("outside_diameter", "Give the outside or the mean diameter of the coil.")
        )
    if outside is not None and outside <= wire:
        raise ImpossibleInput(
            (
                "wire_diameter",
                (
                    f"A wire of {millimetres_text(wire)} is not inside a coil of "
                    f"{millimetres_text(outside)}."
                ),
            )
        )
    if outside is not None and mean is not None:
        _check_both(inputs, outside=outside, mean=mean, wire=wire)
    name = "outside_diameter" if mean is None else "mean_diameter"
    if mean is None:
        mean = (outside or 0) - wire
    if mean <= wire:
        raise ImpossibleInput(
            (
                name,
                (
                    f"A mean diameter of {millimetres_text(mean)} over a wire of "
                    f"{millimetres_text(wire)} is a spring index of "
                    f"{number_text(Fraction(mean, wire), 2)}; it must be above 1, or the coil has "
                    "no inside."
                ),
            )
        )
    return mean, name


def _check_both(inputs: Inputs, *, outside: int, mean: int, wire: int) -> None:
    """Refuse an outside and a mean diameter that differ by more than the readings may be off."""
    allowed = 2 * inputs.setting_length("spring.diameter_uncertainty")
    allowed += (inputs.spread("outside_diameter") or 0) + (inputs.spread("mean_diameter") or 0)
    if abs(outside - wire - mean) > allowed:
        raise ImpossibleInput(
            (
                "mean_diameter",
                (
                    f"{millimetres_text(outside)} outside less a wire of {millimetres_text(wire)} "
                    f"is {millimetres_text(outside - wire)}, not {millimetres_text(mean)}: give "
                    "one of the two."
                ),
            )
        )


def _end_of(inputs: Inputs) -> tuple[End, bool]:
    """Return the ends: as given, else as both counts of coils tell, else the setting's."""
    given = inputs.text("ends")
    if given is not None:
        return ENDS[given], True
    total, active = inputs.number("total_coils"), inputs.number("active_coils")
    if total is not None and active is not None:
        for end in ENDS.values():
            if end.dead == total - active:
                return end, True
    return ENDS[inputs.setting_text("spring.ends")], False


def _coils_of(inputs: Inputs, end: End) -> tuple[Fraction, Fraction]:
    """Return active and total coils, each from the other by the ends."""
    total, active = inputs.number("total_coils"), inputs.number("active_coils")
    for name, coils in (("total_coils", total), ("active_coils", active)):
        if coils is not None and coils <= 0:
            raise ImpossibleInput((name, "A spring has more than no coils."))
    if active is None and total is None:
        raise ImpossibleInput(("total_coils", "Give the total or the active coils."))
    if active is None:
        active = (total or Fraction(0)) - end.dead
        if active <= 0:
            raise ImpossibleInput(
                (
                    "total_coils",
                    (
                        f"With {end.words} ends {end.dead} coils do not work, so "
                        f"{number_text(total or Fraction(0), 2)} leave no active coil."
                    ),
                )
            )
    if total is None:
        total = active + end.dead
    if total - active != end.dead:
        raise ImpossibleInput(
            (
                "active_coils",
                (
                    f"{number_text(total, 2)} total and {number_text(active, 2)} active coils do "
                    f"not go with {end.words} ends, of which {end.dead} coils do not work: give "
                    "one count."
                ),
            )
        )
    return active, total


def lengths_of(inputs: Inputs) -> Iterator[tuple[str, int]]:
    """Yield each length at which the force is wanted, with the input it comes from."""
    for name in ("installed_length", "working_length"):
        length = inputs.length(name)
        if length is not None:
            yield name, length
    further = inputs.get("working_lengths")
    if isinstance(further, tuple):
        for length in further:
            yield "working_lengths", length


def _problems_of_length(inputs: Inputs, spring: Spring) -> Iterator[tuple[str, str]]:
    """Yield lengths that cannot be."""
    free = spring.free_nanometres
    if free is None:
        return
    solid = spring.solid_nanometres if spring.ends_given else _least_solid(inputs, spring)
    if free < solid:
        yield (
            "free_length",
            (
                f"{length_text(free)} free is less than the spring pressed solid, "
                f"{millimetres_text(solid)}: measure again, or count the coils again."
            ),
        )
    for name, length in lengths_of(inputs):
        if length > free:
            yield (
                name,
                f"{length_text(length)} is longer than the free spring, {length_text(free)}.",
            )


def _least_solid(inputs: Inputs, spring: Spring) -> Fraction:
    """Return the shortest that the spring could be pressed, whatever its ends are."""
    total, active = inputs.number("total_coils"), inputs.number("active_coils")
    return min(
        end.solid_nanometres(
            spring.wire_nanometres, (active or Fraction(0)) + end.dead if total is None else total
        )
        for end in ENDS.values()
    )


def _problems_of_place(inputs: Inputs) -> Iterator[tuple[str, str]]:
    """Yield places that cannot be."""
    rod, bore = inputs.length("rod_diameter"), inputs.length("bore_diameter")
    if rod is not None and bore is not None and rod >= bore:
        yield (
            "rod_diameter",
            f"A rod of {length_text(rod)} leaves no room in a bore of {length_text(bore)}.",
        )
    installed, working = inputs.length("installed_length"), inputs.length("working_length")
    if installed is not None and working is not None and working > installed:
        yield (
            "working_length",
            (
                f"Pressed to {length_text(working)} it would be longer than at rest, "
                f"{length_text(installed)}: are the two swapped?"
            ),
        )
