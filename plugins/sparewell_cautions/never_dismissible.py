"""The cautions that cannot be switched off: they can hurt a person or destroy a pen outright.

Five families: casein and water, celluloid and heat, bleach and ammonia, bleach and acid, a
flammable solvent and hot air. A family has several rules, since whatever brings one half of it
to the bench calls for the caution: a step, or a substance named either way round.
"""

from __future__ import annotations

from typing import Final

from sparewell.plugin import CautionRule
from sparewell_cautions.sources import CONSERVATION, DEFER, FIRE, HEALTH, SAFETY_SHEETS

_CASEIN_SOURCE: Final = f"{CONSERVATION}; repairers' published accounts"
_HEAT_SOURCE: Final = f"{CONSERVATION}; {FIRE}"


def _never(
    name: str,
    caution: str,
    source: str,
    *,
    material: str | None = None,
    step: str | None = None,
    substance: str | None = None,
) -> CautionRule:
    """Return a rule that no setting switches off."""
    return CautionRule(
        name,
        caution,
        source,
        material=material,
        step=step,
        substance=substance,
        dismissible=False,
    )


def _casein_step(step: str, caution: str) -> CautionRule:
    """Return the caution for a step that wets the pen, whatever the step says it uses."""
    return _never(f"casein_{step}", caution, _CASEIN_SOURCE, material="casein", step=step)


_CASEIN: Final = (
    _never(
        "casein_water",
        "Casein: no water at all. It swells, bends and splits; that includes soaking, "
        "flushing, ultrasonic baths, and leak and fill tests with water or ink.",
        _CASEIN_SOURCE,
        material="casein",
        substance="water",
    ),
    _never(
        "casein_ink",
        "Casein: a test with ink wets it as water does. Test by air.",
        _CASEIN_SOURCE,
        material="casein",
        substance="ink",
    ),
    _never(
        "casein_ammonia",
        "Casein: an ammonia flush is water first of all, and alkali attacks it besides. None.",
        _CASEIN_SOURCE,
        material="casein",
        substance="ammonia",
    ),
    _casein_step(
        "leak_test",
        "Casein: no leak test in a cup or on wet tissue. Compress, cover the feed, release: it "
        "must stay as it is.",
    ),
    _casein_step(
        "fill_test",
        "Casein: no fill test with water or ink. Test the filler dry, by the feel of its vacuum.",
    ),
    _casein_step("soak", "Casein: no soaking; hours in water have bent barrels for good."),
    _casein_step("flush", "Casein: no flushing while the barrel or the cap is on the pen."),
    _casein_step("ultrasonic", "Casein: no ultrasonic bath at all."),
)

_CELLULOID: Final = (
    _never(
        "celluloid_heat",
        "Celluloid (cellulose nitrate) burns fiercely, feeds itself with oxygen, gives toxic "
        "fumes and cannot be smothered; hot air can light it with little warning. Every "
        f"heating also drives out plasticiser: count them. {DEFER}",
        _HEAT_SOURCE,
        material="celluloid",
        step="heat",
    ),
    _never(
        "celluloid_grind",
        "Celluloid: grinding and turning heat it, and its dust and swarf burn like the sheet. "
        f"Slow, cool, no sparks near, dust cleared away wet at once. {DEFER}",
        _HEAT_SOURCE,
        material="celluloid",
        step="grind",
    ),
    _never(
        "celluloid_polish",
        "Celluloid: a buffing wheel heats it enough to light it, and the dust burns. By hand, or "
        f"slowly with pauses; no heap of dust. {DEFER}",
        _HEAT_SOURCE,
        material="celluloid",
        step="polish",
    ),
)

_BLEACH: Final = (
    _never(
        "bleach_ammonia",
        f"Bleach and ammonia together make chloramine gas, which can kill. {DEFER}",
        HEALTH,
        substance="bleach",
    ),
    _never(
        "ammonia_bleach",
        f"Never let ammonia meet bleach, in the bath or in the drain: chloramine gas. {DEFER}",
        HEALTH,
        substance="ammonia",
    ),
    _never(
        "bleach_acid",
        f"Bleach and acid (vinegar, descaler, iron-gall ink) make chlorine gas. {DEFER}",
        HEALTH,
        substance="bleach",
    ),
    _never(
        "acid_bleach",
        f"Never let acid (vinegar, descaler, iron-gall ink) meet bleach: chlorine gas. {DEFER}",
        HEALTH,
        substance="acid",
    ),
)


def _flammable(name: str, substance: str, words: str) -> CautionRule:
    """Return the caution for one flammable solvent."""
    return _never(
        name,
        f"{words} flammable: no hot air or flame until the vapour is gone and the bottle is "
        f"closed and away. {DEFER}",
        f"{SAFETY_SHEETS} of flammable solvents",
        substance=substance,
    )


_FLAMMABLE: Final = (
    _never(
        "heat_flammable_solvent",
        "Before hot air is switched on: no open shellac, alcohol, naphtha or acetone on the bench, "
        f"and no fresh vapour of them. {DEFER}",
        f"{SAFETY_SHEETS} of flammable solvents",
        step="heat",
    ),
    _never(
        "flammable_solvent_heat",
        "Shellac, alcohol and naphtha are flammable: no hot air or flame until the vapour is "
        f"gone and the bottle is closed and away. {DEFER}",
        "product safety sheets of alcohol and naphtha",
        substance="alcohol",
    ),
    _flammable("flammable_shellac_heat", "shellac", "Shellac is dissolved in alcohol, which is"),
    _flammable("flammable_naphtha_heat", "naphtha", "Naphtha spares celluloid and is highly"),
    _flammable("flammable_acetone_heat", "acetone", "Acetone is highly"),
)

NEVER_DISMISSIBLE: Final = (*_CASEIN, *_CELLULOID, *_BLEACH, *_FLAMMABLE)
