"""Every step of the spring's answer in a sentence, with its numbers."""

from __future__ import annotations

from collections.abc import Iterator

from sparewell.plugin import Inputs, length_text, millimetres_text, number_text, percent_text
from sparewell_springs.band import RateBand
from sparewell_springs.forces import SpringForces
from sparewell_springs.readings import Spring
from sparewell_springs.wording import significant_text


def working_of(inputs: Inputs, spring: Spring, band: RateBand, work: SpringForces) -> list[str]:
    """Return the working, in the order in which it is reckoned."""
    return [
        *_of_coil(inputs, spring),
        *_of_rate(spring, band, work),
        *_of_lengths(spring),
        *_of_forces(work),
        *_of_strength(inputs, work),
    ]


def _of_coil(inputs: Inputs, spring: Spring) -> Iterator[str]:
    """Yield coil and coils."""
    wire, mean = length_text(spring.wire_nanometres), length_text(spring.mean_nanometres)
    if spring.diameter_name == "outside_diameter":
        yield f"Mean diameter: {length_text(spring.outside_nanometres)} - {wire} = {mean}."
    yield f"Spring index: {mean} / {wire} = {number_text(spring.index, 4)}."
    active, total = number_text(spring.active_coils, 4), number_text(spring.total_coils, 4)
    named = "as named" if spring.ends_given else "assumed"
    yield (
        f"Ends: {spring.end.words}, {named}: of {total} coils in all {spring.end.dead} do not "
        f"work, {active} do."
    )
    if "shear_modulus_gpa" in inputs:
        source = "as given"
    else:
        assumed = "" if spring.material_given else ", assumed"
        source = f"{spring.material.words}{assumed} ({spring.material.modulus_source})"
    yield f"Shear modulus: {number_text(spring.shear_modulus_gpa, 4)} GPa, {source}."


def _of_rate(spring: Spring, band: RateBand, work: SpringForces) -> Iterator[str]:
    """Yield the rate and its band."""
    modulus = number_text(spring.shear_modulus_gpa * 1_000, 2)
    wire, mean = number_text(spring.wire, 6), number_text(spring.mean, 6)
    active = number_text(spring.active_coils, 4)
    yield (
        f"Rate: {modulus} x {wire}^4 / (8 x {mean}^3 x {active}) = "
        f"{significant_text(work.rate, 6)} N/mm."
    )
    source = "the spreads noted" if band.noted else "the settings, since no spread was noted"
    most = "no end" if band.most is None else f"{significant_text(band.most)} N/mm"
    diameter = spring.diameter_name.replace("_", " ")
    yield (
        f"Band: wire ±{length_text(band.wire_spread_nanometres)}, {diameter} "
        f"±{length_text(band.diameter_spread_nanometres)} ({source}) make it "
        f"{significant_text(band.least)} to {most}; the rate goes with the fourth power of the "
        "wire."
    )


def _of_lengths(spring: Spring) -> Iterator[str]:
    """Yield the solid length and the travel."""
    coils = number_text(spring.total_coils + spring.end.solid_more, 4)
    more = " (one more for the unground ends)" if spring.end.solid_more else ""
    yield (
        f"Solid: {length_text(spring.wire_nanometres)} x {coils}{more} = "
        f"{millimetres_text(spring.solid_nanometres)}."
    )
    free = spring.free_nanometres
    if free is None:
        yield "Travel and forces: not worked out, since the free length was not given."
        return
    yield (
        f"Travel: {length_text(free)} - {millimetres_text(spring.solid_nanometres)} = "
        f"{millimetres_text(free - spring.solid_nanometres)}."
    )


def _of_forces(work: SpringForces) -> Iterator[str]:
    """Yield the force and the stress at each length."""
    yield (
        f"Wahl factor: {number_text(work.wahl, 5)} (curvature factor of recent textbooks: "
        f"{number_text(work.curvature, 5)})."
    )
    for load in work.loads:
        at = length_text(load.length_nanometres)
        if load.force is None or load.stress_mpa is None:
            yield f"At {at}: solid before that."
            continue
        yield (
            f"At {at}: pressed by {length_text(load.deflection_nanometres)}, "
            f"{significant_text(load.force)} N, {significant_text(load.stress_mpa)} MPa."
        )
    if work.solid_force is not None and work.solid_stress_mpa is not None:
        yield (
            f"Solid: {significant_text(work.solid_force)} N, "
            f"{significant_text(work.solid_stress_mpa)} MPa."
        )


def _of_strength(inputs: Inputs, work: SpringForces) -> Iterator[str]:
    """Yield what the wire bears by each set."""
    for bearing in work.bearings:
        share = number_text(inputs.setting_number("spring.yield_share"), 2)
        used = ""
        if bearing.share_at_solid_percent is not None:
            used = f"; solid it is at {percent_text(bearing.share_at_solid_percent)} of that"
        yield (
            f"Strength by {bearing.strength.set_name}: "
            f"{significant_text(bearing.strength.tensile_mpa)} MPa, of which {share} % in torsion "
            f"= {significant_text(bearing.yield_mpa)} MPa{used}."
        )
