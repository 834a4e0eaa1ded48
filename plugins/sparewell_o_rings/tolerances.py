"""How far a ring may be off its nominal size, where its own table prints no tolerance.

ISO 3601-1:2012 gives class B tolerances of the inside diameter by a formula, and those of
non-preferred cross-sections by bands. Class A for such sections is known from one public
listing only.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from functools import lru_cache
from importlib.resources import files
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, parse_length

# Roots and exponentials are reckoned to 28 digits; a printed tolerance has three.
PRECISE: Final = Context(prec=28, rounding=ROUND_HALF_EVEN)

_FACTOR: Final = Decimal("0.009")
_EXPONENT: Final = Decimal("0.95")
_ADDEND: Final = Decimal("0.11")
_HUNDREDTH: Final = Decimal("0.01")


def rows_of(name: str) -> Sequence[Mapping[str, str]]:
    """Return the rows of one of the plugin's data files, as texts by column."""
    source = files("sparewell_o_rings").joinpath("data", f"{name}.csv")
    return tuple(csv.DictReader(source.read_text(encoding="utf-8").splitlines()))


@lru_cache(maxsize=4096)
def inside_tolerance_class_b(inside_nanometres: int) -> int:
    """Return 0.009 d^0.95 + 0.11 mm, rounded half up to 0.01 mm, in nanometres.

    Source: ISO 3601-1:2012, class B.
    """
    inside = PRECISE.divide(Decimal(inside_nanometres), Decimal(NANOMETRES_PER_MILLIMETRE))
    exact = PRECISE.fma(_FACTOR, PRECISE.power(inside, _EXPONENT), _ADDEND)
    return int(exact.quantize(_HUNDREDTH, rounding=ROUND_HALF_UP) * NANOMETRES_PER_MILLIMETRE)


def _bands() -> Mapping[str, Sequence[tuple[int, int]]]:
    """Return the bands by table: (up to and with, tolerance), in nanometres."""
    bands: dict[str, list[tuple[int, int]]] = {}
    for row in rows_of("iso3601_1_bands"):
        # The last bands lie beyond a metre, which is more than a length may be elsewhere.
        up_to = int(Decimal(row["up_to"]) * NANOMETRES_PER_MILLIMETRE)
        band = up_to, parse_length(row["tolerance"])
        bands.setdefault(row["table"], []).append(band)
    return bands


_BANDS: Final = _bands()


def _in_band(table: str, nanometres: int) -> int:
    """Return the tolerance of the band a dimension lies in; beyond the last, the last one's."""
    bands = _BANDS[table]
    for up_to, tolerance_nanometres in bands:
        if nanometres <= up_to:
            return tolerance_nanometres
    return bands[-1][1]


def inside_tolerance(inside_nanometres: int, tolerance_class: str) -> int:
    """Return the tolerance of an inside diameter that no table prints, by class A or B."""
    if tolerance_class == "A":
        return _in_band("d1 class A, other sections", inside_nanometres)
    return inside_tolerance_class_b(inside_nanometres)


def section_tolerance(section_nanometres: int, tolerance_class: str) -> int:
    """Return the tolerance of a cross-section that no table prints, by class A or B."""
    return _in_band(f"d2 class {tolerance_class}, other sections", section_nanometres)
