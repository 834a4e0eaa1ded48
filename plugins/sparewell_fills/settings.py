"""Every number of the trade that a fill rests on, with where it comes from."""

from __future__ import annotations

from functools import partial
from typing import Final

from sparewell.plugin import length_setting, number_setting, percent_setting

STIFFNESS: Final = "derived here from illustrations of thin latex and thick silicone; no source"

# How stiff a sac of each material is taken to be, in whole kilopascals; the unknown is any of them.
STIFFNESS_KPA: Final = {"latex": (2, 5), "silicone": (10, 20), "pvc": (10, 20)}

_percent = partial(percent_setting, most=100)

_STIFFNESS: Final = tuple(
    number_setting(
        f"fill.stiffness_{material}_{end}",
        f"Stiffness of a {material} sac, {end}",
        str(kilopascals),
        STIFFNESS,
        help_text="By how much the air round the sac must rise before it collapses.",
        unit="kPa",
    )
    for material, ends in STIFFNESS_KPA.items()
    for end, kilopascals in zip(("low", "high"), ends, strict=True)
)

_SHARES: Final = (
    _percent("fill.sac_share_low", "Share of a sac's volume that a bar empties, low", "55"),
    _percent(
        "fill.sac_share_high",
        "Share of a sac's volume that a bar empties, high",
        "85",
        help_text="The bar does not flatten the ends, and the sac keeps its corners.",
    ),
    _percent("fill.pneumatic_share_low", "Share of a sac that air pressure empties, low", "85"),
    _percent(
        "fill.pneumatic_share_high",
        "Share of a sac that air pressure empties, high",
        "100",
        "a public patent on pneumatic fillers: the whole sac collapses",
    ),
    _percent(
        "fill.pneumatic_leak",
        "Share of its air that a sound pneumatic filler may lose in a stroke",
        "5",
    ),
    _percent("fill.piston_share_low", "Share of its sweep that a sound piston draws, low", "85"),
    _percent("fill.plunger_leak", "Share of its sweep that a sound vacuum plunger may lose", "20"),
)

_WEIGHING: Final = (
    number_setting(
        "fill.water_density",
        "Grams in a millilitre of the water weighed",
        "0.997",
        "density of pure water at 25 °C, printed in any table of constants",
        least="0.9",
        most="1.1",
        unit="g/ml",
    ),
    number_setting(
        "fill.weighing_error",
        "How far one fill by weight may be off",
        "0.03",
        "a public article on filling by weight: 0.02 to 0.03 ml on scales of 0.01 g",
        most="1",
        unit="ml",
    ),
    number_setting(
        "fill.feed_low",
        "What nib and feed hold when a pen is wetted for the first time, low",
        "0.25",
        "a public article on filling by weight: three pens",
        most="2",
        unit="ml",
    ),
    number_setting(
        "fill.feed_high",
        "What nib and feed hold when a pen is wetted for the first time, high",
        "0.32",
        "a public article on filling by weight: three pens",
        most="2",
        unit="ml",
    ),
)

_PHYSICS: Final = (
    number_setting(
        "fill.air_pressure",
        "Pressure of the air where the pen is filled",
        "101.325",
        "the standard atmosphere of ISO 2533:1975",
        least="30",
        most="120",
        unit="kPa",
    ),
    length_setting(
        "fill.sac_wall",
        "Wall of a sac of which only the outside was measured",
        "0.45 mm",
        most="5 mm",
    ),
)

SETTINGS: Final = (*_SHARES, *_STIFFNESS, *_WEIGHING, *_PHYSICS)
