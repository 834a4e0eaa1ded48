"""The calculator `ring_identity`: every standard size that a measured ring could be.

A ring is measured to within a spread, and made to within a tolerance: it could be a size if both
its dimensions lie within spread and tolerance together of that size's. Distances are taken from
the size as it is printed in hundredths of a millimetre: below that, standards that mean the same
ring differ by rounding only, and AS568 goes first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from sparewell.plugin import (
    Answer,
    Calculator,
    Field,
    ImpossibleInput,
    Inputs,
    Output,
    OutputType,
    first_capital,
    length_setting,
    length_text,
)
from sparewell_o_rings.kind import KIND
from sparewell_o_rings.sizes import (
    HUNDREDTH_NANOMETRES,
    STANDARD_ORDER,
    STANDARD_RINGS,
    Ring,
    Standard,
)
from sparewell_o_rings.wording import ring_text

_LENGTH: Final = OutputType.LENGTH
_USUAL_INSIDE: Final = (700_000, 30_000_000)

_INPUTS: Final = (
    Field(
        name="inside_diameter",
        title="Inside diameter of the free ring",
        help="Or give the outside diameter.",
        measured=True,
        how="A stepped pin or a cone, without stretching the ring.",
        plausible=_USUAL_INSIDE,
    ),
    Field(
        name="outside_diameter",
        title="Outside diameter of the free ring",
        help="Instead of the inside diameter, which is easier to stretch by mistake.",
        measured=True,
        how="Outside jaws, touching lightly.",
        plausible=(2_000_000, 35_000_000),
    ),
    Field(
        name="cross_section",
        title="Cross-section of the free ring",
        required=True,
        measured=True,
        how="First of all, on the loose ring, lightly, at three places.",
        plausible=(400_000, 3_000_000),
    ),
    Field(
        name="spread",
        title="How far the readings may be off",
        help="Left out: the setting, unless the readings carry spreads of their own.",
        plausible=(0, 300_000),
        zero_allowed=True,
    ),
)

_OUTPUTS: Final = (
    Output(
        "sizes",
        OutputType.GROUP,
        "Every standard size it could be, the nearest first.",
        many=True,
        members=(
            Output("standard", OutputType.TEXT, "The standard.", choices=tuple(Standard)),
            Output("size", OutputType.TEXT, "What the standard calls it."),
            Output("inside_diameter", _LENGTH, "As the standard has it."),
            Output("cross_section", _LENGTH, "As the standard has it."),
            Output("inside_diameter_tolerance", _LENGTH, "Plus and minus."),
            Output("cross_section_tolerance", _LENGTH, "Plus and minus."),
            Output("tolerance_assumed", OutputType.FLAG, "No table prints it: class B."),
            Output("inside_diameter_difference", _LENGTH, "Measured less standard."),
            Output("cross_section_difference", _LENGTH, "Measured less standard."),
        ),
    ),
    Output("inside_diameter_used", _LENGTH, "As measured, or outside less twice the section."),
    Output("inside_diameter_spread", _LENGTH, "How far it may be off."),
    Output("cross_section_spread", _LENGTH, "How far it may be off."),
    Output("working", OutputType.TEXT, "How it was looked up.", many=True),
)

_SETTINGS: Final = (
    length_setting(
        "ring_identity.spread",
        "How far readings of a small ring may be off",
        "0.05 mm",
        help_text="A caliper shows 0.01 mm; on rubber 0.05 mm is what it is good to.",
        most="1 mm",
    ),
)


def compute(inputs: Inputs) -> Answer:
    """Answer which sizes a ring could be; raise ImpossibleInput where readings contradict."""
    section = inputs.length("cross_section")
    if section is None:
        raise ImpossibleInput(("cross_section", "The cross-section is needed."))
    section_spread = _spread(inputs, "cross_section")
    inside, inside_spread, how = _inside(inputs, section, section_spread)
    could_be = sorted(
        (
            ring
            for ring in STANDARD_RINGS
            if _could_be(ring, inside, inside_spread, section, section_spread)
        ),
        key=lambda ring: _place(ring, inside, section),
    )
    return Answer(
        result={
            "sizes": [_members(ring, inside, section) for ring in could_be],
            "inside_diameter_used": inside,
            "inside_diameter_spread": inside_spread,
            "cross_section_spread": section_spread,
            "working": [
                (
                    f"{first_capital(how)}, give or take {length_text(inside_spread)}; section "
                    f"{length_text(section)}, give or take {length_text(section_spread)}."
                ),
                (
                    "A size counts where both dimensions lie within this and its own tolerance: "
                    f"{len(could_be)} of {len(STANDARD_RINGS)} do."
                ),
            ],
        },
        warnings=tuple(_warnings(could_be, inside, section)),
    )


def _spread(inputs: Inputs, name: str) -> int:
    """Return how far a reading may be off: as asked for, as noted with it, or the setting."""
    asked_for = inputs.length("spread")
    if asked_for is not None:
        return asked_for
    noted = inputs.spread(name)
    return inputs.setting_length("ring_identity.spread") if noted is None else noted


def _inside(inputs: Inputs, section: int, section_spread: int) -> tuple[int, int, str]:
    """Return the inside diameter, how far it may be off, and how it was come by."""
    inside, outside = inputs.length("inside_diameter"), inputs.length("outside_diameter")
    if inside is None and outside is None:
        raise ImpossibleInput(
            ("inside_diameter", "Give the inside diameter, or the outside diameter.")
        )
    if outside is not None and outside <= 2 * section:
        raise ImpossibleInput(
            (
                "cross_section",
                (
                    f"A section of {length_text(section)} leaves no hole in a ring of "
                    f"{length_text(outside)} outside."
                ),
            )
        )
    if inside is None and outside is not None:
        spread = _spread(inputs, "outside_diameter") + 2 * section_spread
        inside = outside - 2 * section
        return inside, spread, f"{length_text(inside)} inside, outside less twice the section"
    assert inside is not None  # noqa: S101 - one of the two was given
    if outside is not None and outside <= inside:
        raise ImpossibleInput(
            (
                "outside_diameter",
                (
                    f"{length_text(outside)} outside is no more than {length_text(inside)} "
                    "inside: are inside and outside swapped?"
                ),
            )
        )
    return inside, _spread(inputs, "inside_diameter"), f"{length_text(inside)} inside"


def _could_be(
    ring: Ring, inside: int, inside_spread: int, section: int, section_spread: int
) -> bool:
    """Return whether spread and tolerance together bridge both differences."""
    return (
        abs(inside - ring.inside_nanometres) <= inside_spread + ring.inside_tolerance_nanometres
        and abs(section - ring.section_nanometres)
        <= section_spread + ring.section_tolerance_nanometres
    )


def _place(ring: Ring, inside: int, section: int) -> tuple[int, int, str]:
    """Return the place in the order: distance from what is printed, the standard, the size."""
    printed_inside, printed_section = (each * HUNDREDTH_NANOMETRES for each in ring.printed)
    apart = abs(inside - printed_inside) + abs(section - printed_section)
    return apart, STANDARD_ORDER[ring.standard], ring.size


def _members(ring: Ring, inside: int, section: int) -> Mapping[str, object]:
    """Return one size as the result carries it."""
    return {
        "standard": ring.standard.value,
        "size": ring.size,
        "inside_diameter": ring.inside_nanometres,
        "cross_section": ring.section_nanometres,
        "inside_diameter_tolerance": ring.inside_tolerance_nanometres,
        "cross_section_tolerance": ring.section_tolerance_nanometres,
        "tolerance_assumed": ring.assumed,
        "inside_diameter_difference": inside - ring.inside_nanometres,
        "cross_section_difference": section - ring.section_nanometres,
    }


def _warnings(could_be: list[Ring], inside: int, section: int) -> Iterator[str]:
    """Yield what the answer cannot know."""
    if not could_be:
        yield (
            f"No standard size: it may be a free metric ring, {ring_text(inside, section)}, or "
            "worn, swollen or flattened."
        )
    yield (
        "An old ring is flattened, swollen or shrunk: measure the groove, the rod and the bore, "
        "and ask for the ring that suits them."
    )
    if any(ring.assumed for ring in could_be):
        yield "BS 4518 sizes are judged by the tolerances of ISO 3601-1 class B."


RING_IDENTITY_CALCULATOR: Final = Calculator(
    name="ring_identity",
    title="Size of a measured O-ring",
    help="Every standard size that a ring of these dimensions could be.",
    inputs=_INPUTS,
    outputs=_OUTPUTS,
    headline=("sizes.size",),
    compute=compute,
    sources=(
        "Sizes and tolerances: AS568, ISO 3601-1:2012, JIS B 2401-1:2012, BS 4518 (partial).",
        "How far a reading of rubber is good: common practice, no source.",
    ),
    settings=_SETTINGS,
    kind=KIND,
)
