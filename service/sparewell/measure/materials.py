"""What pens and pieces are made of: each name people use, and the one the rules know it by."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from types import MappingProxyType

BODY_MATERIALS: Mapping[str, str] = MappingProxyType(
    {
        "celluloid": "celluloid",
        "cellulose nitrate": "celluloid",
        "casein": "casein",
        "casein plastic": "casein",
        "casein formaldehyde": "casein",
        "hard rubber": "hard rubber",
        "ebonite": "hard rubber",
        "vulcanite": "hard rubber",
        "acrylic": "acrylic",
        "polystyrene": "polystyrene",
        "cellulose acetate": "cellulose acetate",
        "moulded plastic": "moulded plastic",
    }
)

PEN_MATERIALS: Mapping[str, str] = MappingProxyType(
    {
        **BODY_MATERIALS,
        "metal": "metal",
        "silver": "metal",
        "gold": "metal",
        "brass": "metal",
        "steel": "metal",
        "wood": "wood",
    }
)

_PIECE_MATERIALS: Mapping[str, str] = MappingProxyType(
    {
        "vinyl": "pvc",
        "soft pvc": "pvc",
        "plasticised pvc": "pvc",
        "plasticized pvc": "pvc",
        "rubber latex": "latex",
        "natural latex": "latex",
    }
)


def as_known(materials: Sequence[str]) -> tuple[frozenset[str], bool]:
    """Return the materials the rules know, and whether anything about the pen is unknown."""
    found = [PEN_MATERIALS.get(material.strip().lower()) for material in materials]
    known = frozenset(material for material in found if material is not None)
    return known, None in found or not found


def piece_material(material: str | None) -> str:
    """Return the material of a piece by the name the rules know it by; nothing where unknown."""
    said = (material or "").strip().lower()
    return _PIECE_MATERIALS.get(said, said)


def names_of(materials: Collection[str]) -> list[str]:
    """Return every name that pieces of these materials go by."""
    others = [name for name, known in _PIECE_MATERIALS.items() if known in materials]
    return sorted({*materials, *others})
