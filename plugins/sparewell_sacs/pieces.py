"""What is known of one piece, and what has to be assumed of it; contradictions are named."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from sparewell.plugin import Piece, millimetres_text
from sparewell_sacs.kind import MATERIALS
from sparewell_sacs.stretch import Walls

MEASURE_THE_BAG: Final = "no outside diameter is known: measure the bag"


@dataclass(frozen=True)
class KnownSac:
    """One piece as it is judged.

    `over_nipple` is the outside diameter of the part that goes over the nipple: the neck, where
    it has one. `inside` is exact where it is known, else it follows from the wall, and then
    `assumed_walls` holds the band.
    """

    outside_nanometres: int
    over_nipple_nanometres: int
    inside_nanometres: int
    wall_nanometres: Fraction
    assumed_walls: Walls | None
    tip_nanometres: int | None
    length_nanometres: int | None
    material: str | None

    @property
    def is_shaped(self) -> bool:
        """Whether it is necked or tapered."""
        return (
            self.tip_nanometres is not None
            or self.over_nipple_nanometres != self.outside_nanometres
        )


class UnknowableSacError(Exception):
    """Raised for a piece that cannot be judged; its text is the reason."""


def known_sac(piece: Piece, walls: Walls) -> KnownSac:
    """Return what is known of the piece, or raise UnknowableSacError."""
    outside_nanometres = piece.dimensions.get("outside_diameter")
    if outside_nanometres is None:
        raise UnknowableSacError(MEASURE_THE_BAG)
    neck_nanometres = piece.dimensions.get("neck_diameter")
    if neck_nanometres is not None and neck_nanometres > outside_nanometres:
        raise UnknowableSacError(
            f"a neck of {millimetres_text(neck_nanometres)} is wider than the body of "
            f"{millimetres_text(outside_nanometres)}: measure again"
        )
    over_nipple_nanometres = neck_nanometres or outside_nanometres
    inside_nanometres = None
    if neck_nanometres is None:
        inside_nanometres = _inside_of(piece, outside_nanometres)
    thickness_nanometres = piece.dimensions.get("thickness")
    assumed_walls = None
    if inside_nanometres is None:
        if thickness_nanometres is None:
            assumed_walls = walls
            thickness_nanometres = walls.nominal_nanometres
        inside_nanometres = over_nipple_nanometres - 2 * thickness_nanometres
        if inside_nanometres <= 0:
            raise UnknowableSacError(
                f"a wall of {millimetres_text(thickness_nanometres)} leaves no hole in "
                f"{millimetres_text(over_nipple_nanometres)}: measure again"
            )
    return KnownSac(
        outside_nanometres=outside_nanometres,
        over_nipple_nanometres=over_nipple_nanometres,
        inside_nanometres=inside_nanometres,
        wall_nanometres=Fraction(over_nipple_nanometres - inside_nanometres, 2),
        assumed_walls=assumed_walls,
        tip_nanometres=piece.dimensions.get("tip_diameter"),
        length_nanometres=piece.dimensions.get("length"),
        material=_material_of(piece),
    )


def _inside_of(piece: Piece, outside_nanometres: int) -> int | None:
    """Return the inside diameter, unless it is a nominal one that the measured outside belies."""
    inside_nanometres = piece.dimensions.get("inside_diameter")
    if inside_nanometres is None or inside_nanometres < outside_nanometres:
        return inside_nanometres
    if piece.basis.get("inside_diameter") == "measured":
        raise UnknowableSacError(
            f"{millimetres_text(inside_nanometres)} inside is no less than "
            f"{millimetres_text(outside_nanometres)} outside: measure again"
        )
    return None


def _material_of(piece: Piece) -> str | None:
    """Return a material that is known here, or None, which counts as the worst."""
    material = (piece.material or "").strip().lower()
    return material if material in MATERIALS else None
