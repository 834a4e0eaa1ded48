"""What is said beside a spring: warnings about these readings, cautions about the work."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sparewell.plugin import Inputs, length_text, millimetres_text, number_text, percent_text
from sparewell_springs.ends import ENDS
from sparewell_springs.forces import SpringForces
from sparewell_springs.mechanics import buckling_length
from sparewell_springs.readings import Spring

CAUTIONS: Final = (
    (
        "A spring under load flies: wear eye protection, open the pen inside a bag or under a "
        "cloth, and let the load off by the thread, not by the last pull."
    ),
    "Wire ends are sharp, and cut wire flies: hold both sides of the cut.",
    (
        "Steel rusts where ink reaches it: dry it, and grease it sparingly with what the pen's "
        "rubber bears. Never heat a spring: it loses its temper."
    ),
    "The safety sheets of the products in use come before anything said here.",
)


def warnings_of(inputs: Inputs, spring: Spring, work: SpringForces) -> tuple[str, ...]:
    """Return every warning, the gravest first."""
    return (
        *_of_solid(inputs, spring, work),
        *_of_place(inputs, spring),
        *_of_index(inputs, spring),
        *_of_strength(spring, work),
        *_of_buckling(inputs, spring),
        *_of_assumptions(inputs, spring),
    )


def _of_solid(inputs: Inputs, spring: Spring, work: SpringForces) -> Iterator[str]:
    """Yield that the spring is solid before a length asked about, or nearly."""
    solid, free = spring.solid_nanometres, spring.free_nanometres
    for load in work.loads:
        if load.is_solid:
            yield (
                f"The spring is solid at {millimetres_text(solid)}, before it is as short as "
                f"{length_text(load.length_nanometres)}: it would be crushed, or stop the filler."
            )
        elif load.length_nanometres - solid < inputs.setting_length("spring.solid_reserve"):
            yield (
                f"At {length_text(load.length_nanometres)} the spring is within "
                f"{millimetres_text(load.length_nanometres - solid)} of being solid."
            )
    if free is None and list(work.loads) == [] and _asked_for_forces(inputs):
        yield "Forces are not worked out: the free length is needed."
    if free is not None and free <= solid:
        yield (
            f"{length_text(free)} free is solid already: there is no travel. Is it a spring that "
            "is pulled, or were its coils or its ends counted wrongly?"
        )


def _asked_for_forces(inputs: Inputs) -> bool:
    """Return whether a length in use was given."""
    return any(name in inputs for name in ("working_length", "installed_length", "working_lengths"))


def _of_place(inputs: Inputs, spring: Spring) -> Iterator[str]:
    """Yield that the old spring itself does not go where it is said to belong."""
    rod, bore = inputs.length("rod_diameter"), inputs.length("bore_diameter")
    if rod is not None and spring.inside_nanometres <= rod:
        yield (
            f"{millimetres_text(spring.inside_nanometres)} inside does not go over a rod of "
            f"{length_text(rod)}: is this the spring of this pen?"
        )
    if bore is not None and spring.outside_nanometres >= bore:
        yield (
            f"{millimetres_text(spring.outside_nanometres)} outside does not go into a bore of "
            f"{length_text(bore)}: is this the spring of this pen?"
        )


def _of_index(inputs: Inputs, spring: Spring) -> Iterator[str]:
    """Yield that the index is outside what is wound."""
    least = inputs.setting_number("spring.index_least")
    most = inputs.setting_number("spring.index_most")
    index = number_text(spring.index, 2)
    if spring.index < least:
        yield (
            f"A spring index of {index} is below {number_text(least, 1)}: hard to wind and highly "
            "stressed inside. Measure wire and coil again."
        )
    if spring.index > most:
        yield (
            f"A spring index of {index} is above {number_text(most, 1)}: such springs tangle and "
            "buckle. Measure wire and coil again."
        )


def _of_strength(spring: Spring, work: SpringForces) -> Iterator[str]:
    """Yield that pressing the spring solid sets it, or that nothing is known of its wire."""
    for load in work.loads:
        share = work.share_of_yield_percent(load.stress_mpa)
        if share is not None and share > 100:  # noqa: PLR2004 - a percentage
            yield (
                f"At {length_text(load.length_nanometres)} the wire is at {percent_text(share)} of "
                "its yield: it would set shorter in use. Is the free length right?"
            )
    worst = work.worst_share_percent
    if worst is not None and worst > 100:  # noqa: PLR2004 - a percentage
        yield (
            f"Pressed solid the wire is at {percent_text(worst)} of its yield: it would set "
            "shorter. Do not press it solid to try it."
        )
    for bearing in work.bearings:
        if not bearing.strength.in_range:
            yield (
                f"The set {bearing.strength.set_name} does not cover a wire of "
                f"{millimetres_text(spring.wire_nanometres)}: its strength is an extrapolation."
            )
    if not work.bearings:
        yield f"No published strength is kept for {spring.material.words}: stress only."


def _of_buckling(inputs: Inputs, spring: Spring) -> Iterator[str]:
    """Yield that a long spring needs a guide."""
    free = spring.free_nanometres
    guided = "rod_diameter" in inputs or "bore_diameter" in inputs
    if free is None or guided or not spring.material.is_steel:
        return
    longest = buckling_length(spring.mean) * 1_000_000
    if free >= longest:
        yield (
            f"{length_text(free)} free is longer than {millimetres_text(longest)}: it may buckle "
            "sideways unless a rod or a bore guides it."
        )


def _of_assumptions(inputs: Inputs, spring: Spring) -> Iterator[str]:
    """Yield what was assumed, and what it matters."""
    if not spring.ends_given:
        other = ENDS["plain"]
        if "total_coils" in inputs:
            more = number_text(spring.total_coils - other.dead, 2)
            matter = f"plain ends would leave {more} active coils, and another rate"
        else:
            solid = other.solid_nanometres(spring.wire_nanometres, spring.active_coils + other.dead)
            matter = f"with plain ends it would be solid at {millimetres_text(solid)}"
        yield f"No ends were named: {spring.end.words} ends are assumed; {matter}."
    if "shear_modulus_gpa" in inputs:
        if spring.material_given:
            yield "The shear modulus as given is used, not the material's."
        elif "material" not in inputs:
            yield (
                f"No material was named: the strength is that of {spring.material.words}. The "
                "rate rests on the shear modulus as given."
            )
    elif not spring.material_given:
        yield (
            f"No material was named: {spring.material.words} is assumed. Stainless steel is about "
            "a sixth softer and phosphor bronze half as stiff."
        )
    if inputs.spread("wire_diameter") is None:
        yield (
            "No spread was noted with the wire: the rate goes with its fourth power, so 1 % on "
            "the wire is 4 % on the rate and more."
        )
