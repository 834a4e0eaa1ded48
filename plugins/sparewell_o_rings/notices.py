"""What is said beside the answer: warnings about this gland, cautions about the work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from sparewell.plugin import Inputs, Verdict, first_capital, length_text, percent_text
from sparewell_o_rings.glands import Duty, GlandKind
from sparewell_o_rings.materials import Suitability
from sparewell_o_rings.ranking import FoundRings
from sparewell_o_rings.verdicts import GOOD
from sparewell_o_rings.wording import millimetres_text

SHEETS_FIRST: Final = "The safety sheets of the products in use come before anything said here."
_PICKS: Final = (
    "Picks for lifting an old ring are sharp: push away from the hand, and use wood or plastic, "
    "since a scratch along the groove leaks for good."
)
_SPRINGS: Final = (
    "A rod or plunger may be under a spring: open it inside a bag, with the eyes protected."
)
_AMMONIA: Final = (
    "Ammonia: ventilate, keep it off eyes and skin, never let it meet bleach, and never put it in "
    "a pen of casein or of unknown material."
)
_FKM: Final = (
    "FKM must never be burnt or touched once it is charred: it gives off hydrogen fluoride."
)
_NARROW_PERCENT: Final = 4


def cautions_of(inputs: Inputs, found: FoundRings) -> tuple[str, ...]:
    """Return the cautions for the work, the flush and the material."""
    cautions = [_PICKS]
    if found.gland.duty is Duty.MOVING:
        cautions.append(_SPRINGS)
    if inputs.text("flush") == "ammonia":
        cautions.append(_AMMONIA)
    if inputs.text("material") in {"fkm", None}:
        cautions.append(_FKM)
    return (*cautions, SHEETS_FIRST)


def warnings_of(
    inputs: Inputs, found: FoundRings, suitabilities: Sequence[Suitability]
) -> tuple[str, ...]:
    """Return every warning, the gravest first."""
    return (
        *_of_material(inputs, suitabilities),
        *_of_choice(found),
        *_of_ring(inputs, found),
        *_of_readings(found),
    )


def _of_material(inputs: Inputs, suitabilities: Sequence[Suitability]) -> Iterator[str]:
    """Yield what the material asked for does not stand, or that none was asked for."""
    asked_for = inputs.text("material")
    unsuitable = [each for each in suitabilities if each.is_unsuitable]
    suitable = [each.material for each in suitabilities if not each.is_unsuitable]
    if asked_for is None:
        for each in unsuitable:
            yield f"{first_capital(each.why)}: not for this gland."
        if unsuitable:
            yield (
                "Black rings cannot be told apart by eye: take only a ring whose bag names its "
                "material."
            )
        return
    for each in unsuitable:
        if each.material == asked_for:
            instead = f" Take {' or '.join(suitable)}." if suitable else ""
            yield f"{first_capital(each.why)}: not for this gland.{instead}"


def _of_choice(found: FoundRings) -> Iterator[str]:
    """Yield how far the answer can be relied on."""
    if found.given:
        return
    if not found.rings:
        yield (
            "No ring of any table comes near this gland: measure it again, and look for a ring "
            "that fits what is wanted."
        )
        return
    best = found.rings[0]
    if best.verdict is Verdict.TRY_IN:
        yield (
            "No size fits whatever its tolerance: measure the section of the ring in hand, then "
            "its inside diameter, give them as `ring`, and try it in."
        )
    elif best.verdict not in GOOD:
        yield (
            f"Nothing fits: the nearest, {best.ring.name}, is {best.verdict.value}. Measure the "
            "groove, the rod and the bore again; an old ring is no guide."
        )


def _of_ring(inputs: Inputs, found: FoundRings) -> Iterator[str]:
    """Yield what is special about fitting the best ring."""
    if not found.rings:
        return
    best = found.rings[0]
    over = best.assessment.fitting_stretch
    most = inputs.setting_number("o_ring.fitting_stretch_most")
    if over is not None and over > most:
        yield (
            f"Over an edge as wide as the bore the ring is stretched {percent_text(over)} for a "
            "moment, above the published limit: take the piston apart if it can be, else roll the "
            "ring on greased and warm, slowly, and let it shrink back before it is squeezed."
        )
    squeeze = best.assessment.squeeze
    if squeeze is not None and not found.given and squeeze.most - squeeze.least > _NARROW_PERCENT:
        yield (
            f"By tolerance alone {best.ring.name} is squeezed anything from "
            f"{percent_text(squeeze.least)} to {percent_text(squeeze.most)}: its packet says "
            "little, its measured section says it."
        )
    if any(one.ring.assumed for one in found.rings):
        yield (
            "Where no table prints a tolerance (free metric sizes, BS 4518), that of ISO 3601-1 "
            "is assumed."
        )


def _of_readings(found: FoundRings) -> Iterator[str]:
    """Yield what was assumed, doubtful, or given and not used."""
    gland = found.gland
    if not gland.duty_given:
        yield "Nothing was said of the duty: the ring is judged as one that does not move."
    if gland.kind is GlandKind.FACE and gland.duty is Duty.MOVING:
        yield (
            "A ring in a face groove seals a joint at rest: if the faces only turn while it is "
            "closed, it counts as static."
        )
    if gland.width is None:
        yield "The groove's width was not given, so its fill is not checked."
    elif found.rings:
        section = found.rings[0].ring.section_nanometres
        if gland.width.nominal < section:
            yield (
                f"A groove {length_text(gland.width.nominal)} wide is narrower than a section of "
                f"{millimetres_text(section)}: the ring does not lie down in it."
            )
    yield from gland.ignored
