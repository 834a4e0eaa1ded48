"""Every number of the trade that a fill rests on, with where it comes from."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import FieldType, Setting

COMMON_PRACTICE: Final = "common practice, no source"
STIFFNESS: Final = "derived here from illustrations of thin latex and thick silicone; no source"

# How stiff a sac of each material is taken to be, in whole kilopascals; the unknown is any of them.
STIFFNESS_KPA: Final = {"latex": (2, 5), "silicone": (10, 20), "pvc": (10, 20)}


def _number(
    name: str,
    title: str,
    default: str,
    unit: str,
    source: str = COMMON_PRACTICE,
    *,
    least: str = "0",
    most: str = "100",
    text: str = "",
) -> Setting:
    """Return a setting that is a number between two bounds."""
    return Setting(
        name=f"fill.{name}",
        title=title,
        type=FieldType.NUMBER,
        default=Decimal(default),
        source=source,
        unit=unit,
        help=text,
        minimum=Decimal(least),
        maximum=Decimal(most),
    )


_STIFFNESS: Final = tuple(
    _number(
        f"stiffness_{material}_{end}",
        f"Stiffness of a {material} sac, {end}",
        str(kilopascals),
        "kPa",
        STIFFNESS,
        text="By how much the air round the sac must rise before it collapses.",
    )
    for material, ends in STIFFNESS_KPA.items()
    for end, kilopascals in zip(("low", "high"), ends, strict=True)
)

_SHARES: Final = (
    _number("sac_share_low", "Share of a sac's volume that a bar empties, low", "55", "%"),
    _number(
        "sac_share_high",
        "Share of a sac's volume that a bar empties, high",
        "85",
        "%",
        text="The bar does not flatten the ends, and the sac keeps its corners.",
    ),
    _number("pneumatic_share_low", "Share of a sac that air pressure empties, low", "85", "%"),
    _number(
        "pneumatic_share_high",
        "Share of a sac that air pressure empties, high",
        "100",
        "%",
        "a public patent on pneumatic fillers: the whole sac collapses",
    ),
    _number(
        "pneumatic_leak",
        "Share of its air that a sound pneumatic filler may lose in a stroke",
        "5",
        "%",
    ),
    _number("piston_share_low", "Share of its sweep that a sound piston draws, low", "85", "%"),
    _number("plunger_leak", "Share of its sweep that a sound vacuum plunger may lose", "20", "%"),
)

_WEIGHING: Final = (
    _number(
        "water_density",
        "Grams in a millilitre of the water weighed",
        "0.997",
        "g/ml",
        "density of pure water at 25 °C, printed in any table of constants",
        least="0.9",
        most="1.1",
    ),
    _number(
        "weighing_error",
        "How far one fill by weight may be off",
        "0.03",
        "ml",
        "a public article on filling by weight: 0.02 to 0.03 ml on scales of 0.01 g",
        most="1",
    ),
    _number(
        "feed_low",
        "What nib and feed hold when a pen is wetted for the first time, low",
        "0.25",
        "ml",
        "a public article on filling by weight: three pens",
        most="2",
    ),
    _number(
        "feed_high",
        "What nib and feed hold when a pen is wetted for the first time, high",
        "0.32",
        "ml",
        "a public article on filling by weight: three pens",
        most="2",
    ),
)

_PHYSICS: Final = (
    _number(
        "air_pressure",
        "Pressure of the air where the pen is filled",
        "101.325",
        "kPa",
        "the standard atmosphere of ISO 2533:1975",
        least="30",
        most="120",
    ),
    Setting(
        name="fill.sac_wall",
        title="Wall of a sac of which only the outside was measured",
        type=FieldType.LENGTH,
        default=450_000,
        source=COMMON_PRACTICE,
        unit="mm",
        minimum=0,
        maximum=5_000_000,
    ),
)

SETTINGS: Final = (*_SHARES, *_STIFFNESS, *_WEIGHING, *_PHYSICS)
