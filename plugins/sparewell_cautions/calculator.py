"""The calculator: how to mix a weak flush of household ammonia, and when not to.

Refused outright for casein and for what is not known. Off by default where it harms, unless a
person gives a reason. Millilitres go by volume; the strength on the bottle is by weight, which at
these strengths is the same to within a few parts in a hundred.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from math import ceil
from typing import Final

from sparewell.plugin import (
    COMMON_PRACTICE,
    Answer,
    Calculator,
    Field,
    FieldType,
    ImpossibleInput,
    Inputs,
    Output,
    OutputType,
    number_setting,
)
from sparewell_cautions.dismissible import DISMISSIBLE
from sparewell_cautions.materials import BODIES, WHY, Bath, Off, bath_of, not_said
from sparewell_cautions.never_dismissible import NEVER_DISMISSIBLE
from sparewell_cautions.sources import HEALTH


class FlushAdvice(StrEnum):
    """What the answer says."""

    MIX = "mix"
    DO_NOT = "do_not"
    OVERRIDDEN = "overridden"


SOURCES: Final = (
    f"Nine parts of water to one of household ammonia and drops of soap: {COMMON_PRACTICE}.",
    "Gold, latex: conservation and gold journals, repair guides, which disagree with others.",
    f"Copper alloys, plated trim: {COMMON_PRACTICE}. Bleach: {HEALTH}.",
)

_TEXTS: Final = {rule.name: rule.caution for rule in (*NEVER_DISMISSIBLE, *DISMISSIBLE)}
CAUTIONS: Final = (
    _TEXTS["ammonia_bleach"],
    _TEXTS["ammonia_air"],
    "The safety sheet of the ammonia in hand comes before anything said here.",
    _TEXTS["casein_water"],
    _TEXTS["ammonia_parts"],
    _TEXTS["old_ink"],
)


SETTINGS: Final = (
    number_setting(
        "flush_mix.target_percent",
        "Strength of the flush",
        "0.5",
        help_text="Nine parts of water to one of a bottle of 5 %.",
        unit="%",
        least="0.05",
        most="3",
    ),
    number_setting(
        "flush_mix.strongest_percent",
        "Strongest bottle that is taken for household ammonia",
        "10",
        help_text="Stronger solutions burn skin and eyes and overcome by their vapour.",
        unit="%",
        least="1",
        most="35",
    ),
    number_setting(
        "flush_mix.soap_drops_per_100_ml",
        "Drops of washing-up liquid in 100 ml",
        "2",
        help_text="Rounded up to whole drops.",
        unit="drops",
        least="0",
        most="50",
    ),
)

INPUTS: Final = (
    Field(
        name="ammonia_percent",
        title="Strength of the bottle",
        type=FieldType.NUMBER,
        help="Percent of ammonia, as its label says. Without it nothing can be mixed.",
        required=True,
        minimum=Decimal("0.1"),
        maximum=Decimal(35),
    ),
    Field(
        name="volume_ml",
        title="Flush wanted",
        type=FieldType.NUMBER,
        help="Millilitres of the ready mixture.",
        required=True,
        minimum=Decimal(10),
        maximum=Decimal(5000),
    ),
    Field(
        name="material",
        title="What goes in",
        type=FieldType.TEXT,
        help=(
            "Everything that gets wet, with commas: hard rubber, steel. Casein and the unknown are "
            "refused."
        ),
    ),
    *(
        Field(
            name=off.value,
            title=title,
            type=FieldType.FLAG,
            help="Whether it gets wet; ammonia is off for it by default.",
        )
        for off, title in (
            (Off.GOLD_NIB, "A gold nib"),
            (Off.LATEX, "Latex"),
            (Off.COPPER_ALLOY, "A copper alloy"),
            (Off.PLATED_TRIM, "Plated trim"),
        )
    ),
    Field(
        name="override_reason",
        title="Reason for doing it all the same",
        type=FieldType.TEXT,
        help="Kept with the answer. It lifts no refusal for casein or the unknown.",
    ),
)

_NUMBER: Final = OutputType.NUMBER
OUTPUTS: Final = (
    Output("allowed", OutputType.FLAG, "Whether amounts are given."),
    Output("advice", OutputType.TEXT, "What to do.", choices=tuple(FlushAdvice)),
    Output("ammonia_ml", _NUMBER, "Millilitres from the bottle; null: do not.", nullable=True),
    Output("water_ml", _NUMBER, "Millilitres of water; null: do not.", nullable=True),
    Output("soap_drops", OutputType.INTEGER, "Drops of soap; null: do not.", nullable=True),
    Output("parts_of_water", _NUMBER, "Parts of water to one from the bottle.", nullable=True),
    Output("strength_percent", _NUMBER, "Ammonia in the flush, as measured out.", nullable=True),
    Output("off_because", OutputType.TEXT, "What keeps ammonia off by default.", many=True),
    Output("override_reason", OutputType.TEXT, "The reason given, if any.", nullable=True),
    Output("steps", OutputType.TEXT, "The order of work.", many=True),
)


def compute(inputs: Inputs) -> Answer:
    """Answer how to mix the flush, or that it should not be mixed."""
    bath = bath_of(inputs)
    _refuse(bath)
    strength = inputs.number("ammonia_percent") or Fraction(0)
    target = inputs.setting_number("flush_mix.target_percent")
    _refuse_strength(inputs, strength, target)
    reason = inputs.text("override_reason")
    advice = FlushAdvice.MIX
    if bath.off:
        advice = FlushAdvice.DO_NOT if reason is None else FlushAdvice.OVERRIDDEN
    result: dict[str, object] = {
        "allowed": advice is not FlushAdvice.DO_NOT,
        "advice": advice.value,
        "off_because": [WHY[off] for off in bath.off],
        "override_reason": reason if advice is FlushAdvice.OVERRIDDEN else None,
    }
    if advice is FlushAdvice.DO_NOT:
        names = ("ammonia_ml", "water_ml", "soap_drops", "parts_of_water", "strength_percent")
        result |= dict.fromkeys(names)
        result["steps"] = ["Water, then water with a drop of soap; take the parts named out first."]
    else:
        result |= _amounts(inputs, strength, target)
    return Answer(result, warnings=tuple(_warnings(inputs, bath, advice)), cautions=CAUTIONS)


def _refuse(bath: Bath) -> None:
    """Refuse casein and whatever is not known."""
    if bath.has_casein:
        raise ImpossibleInput(
            ("material", "casein takes no water at all, so no flush: clean it dry")
        )
    if bath.unknown:
        raise ImpossibleInput(
            (
                "material",
                (
                    f"{', '.join(bath.unknown)}: not known here, so it counts as casein, which "
                    f"takes no water; known are {', '.join(sorted(set(BODIES.values())))}"
                ),
            )
        )
    if not bath.has_names:
        raise ImpossibleInput(
            (
                "material",
                "say what gets wet: an unknown material counts as casein, which takes no water",
            )
        )


def _refuse_strength(inputs: Inputs, strength: Fraction, target: Fraction) -> None:
    """Refuse a bottle that is too weak to make the flush, or no household ammonia."""
    strongest = inputs.setting_number("flush_mix.strongest_percent")
    if strength > strongest:
        raise ImpossibleInput(
            (
                "ammonia_percent",
                (
                    f"{_text(strength)} % is no household ammonia (up to {_text(strongest)} %): "
                    "its vapour and splashes harm, so it is not diluted at the bench"
                ),
            )
        )
    if strength < target:
        raise ImpossibleInput(
            (
                "ammonia_percent",
                f"a bottle of {_text(strength)} % cannot make a flush of {_text(target)} %",
            )
        )


def _amounts(inputs: Inputs, strength: Fraction, target: Fraction) -> dict[str, object]:
    """Return what to measure out: the two add up to the volume wanted."""
    volume = inputs.number("volume_ml") or Fraction(0)
    exact = volume * target / strength
    ammonia = _rounded(exact, 1 if exact >= 1 else 2)
    water = _rounded(volume, 3) - ammonia
    drops = ceil(volume * inputs.setting_number("flush_mix.soap_drops_per_100_ml") / 100)
    return {
        "ammonia_ml": ammonia,
        "water_ml": water,
        "soap_drops": drops,
        "parts_of_water": _rounded(strength / target - 1, 2),
        "strength_percent": _rounded(Fraction(ammonia) * strength / volume, 3),
        "steps": [
            "No bleach in the room; window open; gloves and eye protection.",
            f"Water first: {_text(Fraction(water))} ml, cool.",
            f"Then {ammonia} ml from the bottle, and {drops} drops of soap; label the vessel.",
            "A short flush or dip, minutes and not hours, and look at it.",
            "Rinse with plain water until nothing smells, then dry. Pour away with much water.",
        ],
    }


def _warnings(inputs: Inputs, bath: Bath, advice: FlushAdvice) -> Iterator[str]:
    """Yield what to look at before anything is poured."""
    if advice is FlushAdvice.DO_NOT:
        yield f"Do not: {'; '.join(WHY[off] for off in bath.off)}. A reason would override this."
    elif advice is FlushAdvice.OVERRIDDEN:
        yield f"Overridden by a person: {'; '.join(WHY[off] for off in bath.off)}."
    unsaid = not_said(inputs, bath)
    if unsaid:
        words = ", ".join(off.value.replace("_", " ") for off in unsaid)
        yield f"Not said whether any of these gets wet: {words}. If one does, do not."
    if not bath.bodies:
        yield "Only parts were named: a pen's body of unknown material takes no flush."
    if "hard rubber" in bath.bodies:
        yield "Hard rubber faded by light turns brown or spotted even in cold water: inside only."
    if "celluloid" in bath.bodies:
        yield "Celluloid: cool water only, and not for long."
    if "fkm" in bath.bodies:
        yield "FKM seals bear ammonia badly: take them out first."
    if "override_reason" in inputs and advice is FlushAdvice.MIX:
        yield "A reason was given, and nothing here needed overriding."


def _rounded(value: Fraction, places: int) -> Decimal:
    """Return the value rounded half-even on its exact value."""
    return Decimal(round(value * 10**places)).scaleb(-places)


def _text(value: Fraction) -> str:
    """Return a percentage without trailing zeros."""
    text = f"{_rounded(value, 3):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


FLUSH_MIX_CALCULATOR: Final = Calculator(
    name="flush_mix",
    title="Ammonia flush",
    help="How to mix a weak flush of household ammonia, and when not to.",
    inputs=INPUTS,
    outputs=OUTPUTS,
    headline=("advice", "ammonia_ml", "water_ml"),
    compute=compute,
    sources=SOURCES,
    settings=SETTINGS,
)
