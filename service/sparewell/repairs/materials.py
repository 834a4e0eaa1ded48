"""What pens are made of, and the rule that the unknown is the worst case."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.measure.materials import BODY_MATERIALS

KNOWN_MATERIALS = {
    **BODY_MATERIALS,
    "metal": "metal",
    "silver": "metal",
    "gold": "metal",
    "brass": "metal",
    "steel": "metal",
    "wood": "wood",
}


def as_known(materials: Sequence[str]) -> tuple[frozenset[str], bool]:
    """Return the materials the rules know, and whether anything about the pen is unknown."""
    found = [KNOWN_MATERIALS.get(material.strip().lower()) for material in materials]
    known = frozenset(material for material in found if material is not None)
    return known, None in found or not found
