"""Rings as the arithmetic needs them: every standard size, and free metric ones on demand.

Two standards often name one ring: AS568 -008 and ISO 3601-1 008 differ by what rounding to a
hundredth of a millimetre leaves. Such rings are merged under the name of the first standard.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final, cast

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, SizeTable
from sparewell_o_rings.tables import AS568, BS4518, ISO3601_1, JIS_B2401_P
from sparewell_o_rings.tolerances import inside_tolerance, section_tolerance
from sparewell_o_rings.wording import ring_text

HUNDREDTH_NANOMETRES: Final = NANOMETRES_PER_MILLIMETRE // 100


class Standard(StrEnum):
    """Where a size comes from, in the order in which equal merit is listed."""

    AS568 = "AS568"
    ISO3601_1 = "ISO 3601-1"
    JIS_B2401_P = "JIS B 2401 P"
    BS4518 = "BS 4518"
    FREE = "free metric"
    GIVEN = "as given"


STANDARD_ORDER: Final = {standard: place for place, standard in enumerate(Standard)}

_TABLES: Final[Mapping[Standard, SizeTable]] = {
    Standard.AS568: AS568,
    Standard.ISO3601_1: ISO3601_1,
    Standard.JIS_B2401_P: JIS_B2401_P,
    Standard.BS4518: BS4518,
}


@dataclass(frozen=True)
class Ring:
    """One free ring in nanometres, with how far it may be off either way.

    `also` names the same ring in other standards. `assumed` is true where no table prints the
    tolerance, so that ISO 3601-1 class B stands in for it.
    """

    standard: Standard
    size: str
    inside_nanometres: int
    section_nanometres: int
    inside_tolerance_nanometres: int
    section_tolerance_nanometres: int
    also: tuple[str, ...] = ()
    assumed: bool = False

    @property
    def name(self) -> str:
        """Return what a seller calls it."""
        return f"{self.standard.value} {self.size}"

    @property
    def printed(self) -> tuple[int, int]:
        """Return both dimensions in hundredths of a millimetre, a half up, as tables print them."""
        return to_hundredths(self.inside_nanometres), to_hundredths(self.section_nanometres)


def to_hundredths(nanometres: int) -> int:
    """Return a length in hundredths of a millimetre; exactly half a hundredth goes up."""
    return (2 * nanometres + HUNDREDTH_NANOMETRES) // (2 * HUNDREDTH_NANOMETRES)


def _of_table(standard: Standard, table: SizeTable) -> Iterator[Ring]:
    """Yield the rings of a table; where it prints no tolerance, class B is assumed."""
    for row in table.rows:
        inside = cast("int", row["inside_diameter"])
        section = cast("int", row["cross_section"])
        inside_off = cast("int | None", row["inside_diameter_tolerance"])
        section_off = cast("int | None", row["cross_section_tolerance"])
        yield Ring(
            standard=standard,
            size=str(row["size"]),
            inside_nanometres=inside,
            section_nanometres=section,
            inside_tolerance_nanometres=(
                inside_tolerance(inside, "B") if inside_off is None else inside_off
            ),
            section_tolerance_nanometres=(
                section_tolerance(section, "B") if section_off is None else section_off
            ),
            assumed=inside_off is None or section_off is None,
        )


def merged(rings: Iterable[Ring]) -> Sequence[Ring]:
    """Return each ring once, under its first standard's name; the others become `also`."""
    first: dict[tuple[int, int], Ring] = {}
    for ring in sorted(rings, key=lambda ring: STANDARD_ORDER[ring.standard]):
        known = first.get(ring.printed)
        if known is None:
            first[ring.printed] = ring
        else:
            first[ring.printed] = replace(known, also=(*known.also, ring.name))
    return tuple(first.values())


STANDARD_RINGS: Final[Sequence[Ring]] = tuple(
    ring for standard, table in _TABLES.items() for ring in _of_table(standard, table)
)
MERGED_RINGS: Final[Sequence[Ring]] = merged(STANDARD_RINGS)
_BY_PRINTED: Final[Mapping[tuple[int, int], Ring]] = {ring.printed: ring for ring in MERGED_RINGS}


def standard_like(inside_nanometres: int, section_nanometres: int) -> Ring | None:
    """Return the standard ring of these dimensions to the hundredth, if there is one."""
    printed = to_hundredths(inside_nanometres), to_hundredths(section_nanometres)
    return _BY_PRINTED.get(printed)


def free_ring(inside_nanometres: int, section_nanometres: int, tolerance_class: str) -> Ring:
    """Return a metric ring of no standard, with the tolerance of ISO 3601-1 for other sections."""
    return Ring(
        standard=Standard.FREE,
        size=ring_text(inside_nanometres, section_nanometres).removesuffix(" mm"),
        inside_nanometres=inside_nanometres,
        section_nanometres=section_nanometres,
        inside_tolerance_nanometres=inside_tolerance(inside_nanometres, tolerance_class),
        section_tolerance_nanometres=section_tolerance(section_nanometres, tolerance_class),
        assumed=True,
    )
