"""What of a pen goes into a flush, read from a few words, and what each of it means there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from sparewell.plugin import BODY_MATERIALS, Inputs


class Off(StrEnum):
    """What keeps ammonia off unless a person overrides it."""

    GOLD_NIB = "gold_nib"
    LATEX = "latex"
    COPPER_ALLOY = "copper_alloy"
    PLATED_TRIM = "plated_trim"


WHY: Final = {
    Off.GOLD_NIB: "a gold nib: stressed gold alloys crack in ammonia, slowly and for good",
    Off.LATEX: "latex: ammonia attacks it",
    Off.COPPER_ALLOY: "a copper alloy: ammonia corrodes and cracks brass and bronze",
    Off.PLATED_TRIM: "plated trim: ammonia gets under the plating, to the copper or brass below",
}

CASEIN: Final = tuple(name for name, known in BODY_MATERIALS.items() if known == "casein")

# What bears a short, weak flush, by every name in use.
BODIES: Final = {
    **{name: known for name, known in BODY_MATERIALS.items() if known != "casein"},
    "steel": "steel",
    "stainless steel": "steel",
    "silicone": "silicone",
    "nbr": "nbr",
    "epdm": "epdm",
    "fkm": "fkm",
    "pvc": "pvc",
}

# What is known and off by default. Silver is alloyed with copper; bare "metal" may be any of them.
METALS_AND_RUBBER: Final = {
    "gold": Off.GOLD_NIB,
    "gold nib": Off.GOLD_NIB,
    "latex": Off.LATEX,
    "natural rubber": Off.LATEX,
    "brass": Off.COPPER_ALLOY,
    "bronze": Off.COPPER_ALLOY,
    "copper": Off.COPPER_ALLOY,
    "silver": Off.COPPER_ALLOY,
    "metal": Off.COPPER_ALLOY,
    "plated": Off.PLATED_TRIM,
    "plated trim": Off.PLATED_TRIM,
    "gold-filled": Off.PLATED_TRIM,
    "gold-plated": Off.PLATED_TRIM,
    "nickel-plated": Off.PLATED_TRIM,
    "chrome-plated": Off.PLATED_TRIM,
}

_BETWEEN: Final = re.compile(r"[,;+/]|\band\b")


@dataclass(frozen=True)
class Bath:
    """What goes in: anything named, the bodies known, what is off by default, the rest."""

    has_names: bool
    bodies: tuple[str, ...]
    off: tuple[Off, ...]
    has_casein: bool
    unknown: tuple[str, ...]


def bath_of(inputs: Inputs) -> Bath:
    """Return what goes in, from the words and the flags."""
    names = [
        " ".join(part.split()) for part in _BETWEEN.split((inputs.text("material") or "").lower())
    ]
    names = [name for name in names if name]
    named_off = {METALS_AND_RUBBER[name] for name in names if name in METALS_AND_RUBBER}
    return Bath(
        has_names=bool(names),
        bodies=tuple(dict.fromkeys(BODIES[name] for name in names if name in BODIES)),
        off=tuple(one for one in Off if one in named_off or inputs.get(one.value) is True),
        has_casein=any(name in CASEIN for name in names),
        unknown=tuple(
            name
            for name in names
            if name not in CASEIN and name not in BODIES and name not in METALS_AND_RUBBER
        ),
    )


def not_said(inputs: Inputs, bath: Bath) -> tuple[Off, ...]:
    """Return what was neither named nor denied."""
    return tuple(one for one in Off if one.value not in inputs and one not in bath.off)
