"""Spring wires: how stiff they are, and how strong by two published sets of constants.

The sets are two generations of the same tables and differ by up to a tenth: they are kept apart,
each under its name, and never mixed. Constants are those printed for MPa and millimetres.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from sparewell.plugin import NANOMETRES_PER_INCH, NANOMETRES_PER_MILLIMETRE
from sparewell_springs.mechanics import power_law

NEWER_SET: Final = "shigley_8th_on"
OLDER_SET: Final = "older_handbook"
SET_SOURCES: Final[Mapping[str, str]] = MappingProxyType(
    {
        NEWER_SET: "Shigley's Mechanical Engineering Design, 8th edition on, Table 10-4",
        OLDER_SET: "older editions of the same table, as engineering-exam handbooks print it",
    }
)

_SHIGLEY_MODULI: Final = "Shigley's Mechanical Engineering Design, Table 10-5"
_THOUSANDTH: Final = NANOMETRES_PER_INCH // 1_000


@dataclass(frozen=True)
class Row:
    """One row of a table of strength: A / d^m from `low` to `high` (nanometres, both inside)."""

    constant: Decimal
    exponent: Decimal
    low_nanometres: int | None = None
    high_nanometres: int | None = None


@dataclass(frozen=True)
class Strength:
    """The tensile strength of a wire by one set, and whether the set covers its diameter."""

    set_name: str
    tensile_mpa: Fraction
    in_range: bool


@dataclass(frozen=True)
class Wire:
    """A spring wire. `moduli` are (below this diameter in nm, GPa), the last without end."""

    name: str
    words: str
    moduli: tuple[tuple[int | None, Decimal], ...]
    modulus_source: str
    rows: Mapping[str, tuple[Row, ...]]
    is_steel: bool = True

    def shear_modulus_gpa(self, wire_nanometres: int) -> Fraction:
        """Return the shear modulus of a wire of this diameter."""
        for below, modulus in self.moduli:
            if below is None or wire_nanometres < below:
                return Fraction(modulus)
        raise AssertionError("the last band has no end")

    def strengths(self, wire_nanometres: int) -> tuple[Strength, ...]:
        """Return the strength by each set that knows this wire, outside its range too."""
        wire = Fraction(wire_nanometres, NANOMETRES_PER_MILLIMETRE)
        found = []
        for name, rows in self.rows.items():
            row = _row_of(rows, wire_nanometres)
            low, high = rows[0].low_nanometres, rows[-1].high_nanometres
            inside = (low is None or wire_nanometres >= low) and (
                high is None or wire_nanometres <= high
            )
            found.append(Strength(name, power_law(row.constant, wire, row.exponent), inside))
        return tuple(found)


def _row_of(rows: tuple[Row, ...], wire_nanometres: int) -> Row:
    """Return the row that covers a diameter, or the nearest one."""
    for row in rows:
        if row.high_nanometres is None or wire_nanometres <= row.high_nanometres:
            return row
    return rows[-1]


def _row(constant: int, exponent: str, low: int | None = None, high: int | None = None) -> Row:
    """Return a row; its range is given in thousandths of an inch."""
    return Row(
        Decimal(constant),
        Decimal(exponent),
        None if low is None else low * _THOUSANDTH,
        None if high is None else high * _THOUSANDTH,
    )


def _banded(*moduli: str) -> tuple[tuple[int | None, Decimal], ...]:
    """Return the printed bands: under .033, under .064, up to .125, and above (inches).

    Print leaves .032 to .033 and .063 to .064 open; they go with the thinner wire.
    """
    limits = (33 * _THOUSANDTH, 64 * _THOUSANDTH, 125 * _THOUSANDTH + 1, None)
    return tuple(zip(limits, map(Decimal, moduli), strict=True))


def _same(modulus: str) -> tuple[tuple[int | None, Decimal], ...]:
    """Return one modulus for all diameters."""
    return ((None, Decimal(modulus)),)


WIRES: Final[Mapping[str, Wire]] = MappingProxyType(
    {
        wire.name: wire
        for wire in (
            Wire(
                "music_wire",
                "music wire (A228)",
                _banded("82.7", "81.7", "81.0", "80.0"),
                _SHIGLEY_MODULI,
                {
                    NEWER_SET: (_row(2211, "0.145", 4, 256),),
                    OLDER_SET: (_row(2060, "0.163"),),
                },
            ),
            Wire(
                "hard_drawn",
                "hard-drawn steel (A227)",
                _banded("80.7", "80.0", "79.3", "78.6"),
                _SHIGLEY_MODULI,
                {
                    NEWER_SET: (_row(1783, "0.190", 28, 500),),
                    OLDER_SET: (_row(1510, "0.201"),),
                },
            ),
            Wire(
                "oil_tempered",
                "oil-tempered steel (A229)",
                _same("77.2"),
                _SHIGLEY_MODULI,
                {
                    NEWER_SET: (_row(1855, "0.187", 20, 500),),
                    OLDER_SET: (_row(1610, "0.193"),),
                },
            ),
            Wire(
                "chrome_vanadium",
                "chrome-vanadium steel (A232)",
                _same("77.2"),
                _SHIGLEY_MODULI,
                {
                    NEWER_SET: (_row(2005, "0.168", 32, 437),),
                    OLDER_SET: (_row(1790, "0.155"),),
                },
            ),
            Wire(
                "chrome_silicon",
                "chrome-silicon steel (A401)",
                _same("77.2"),
                "from memory",
                {
                    NEWER_SET: (_row(1974, "0.108", 63, 375),),
                    OLDER_SET: (_row(1960, "0.091"),),
                },
            ),
            Wire(
                "stainless_302",
                "stainless steel 302 (A313)",
                _same("69.0"),
                _SHIGLEY_MODULI,
                {
                    NEWER_SET: (
                        _row(1867, "0.146", 13, 100),
                        _row(2065, "0.263", 100, 200),
                        _row(2911, "0.478", 200, 400),
                    ),
                },
            ),
            Wire(
                "phosphor_bronze",
                "phosphor bronze (B159)",
                _same("41.4"),
                "from memory",
                {
                    NEWER_SET: (
                        _row(1000, "0", 4, 22),
                        _row(913, "0.028", 22, 75),
                        _row(932, "0.064", 75, 300),
                    ),
                },
                is_steel=False,
            ),
            Wire(
                "beryllium_copper",
                "beryllium copper (B197)",
                _same("44.8"),
                "from memory",
                {},
                is_steel=False,
            ),
            Wire("brass", "spring brass", _same("38"), "from memory", {}, is_steel=False),
        )
    }
)

# What a part's material, as it stands on the packet, is taken to be.
WIRE_OF_METAL: Final[Mapping[str, str]] = MappingProxyType(
    {
        "steel": "music_wire",
        "stainless steel": "stainless_302",
        "phosphor bronze": "phosphor_bronze",
        "brass": "brass",
        "beryllium copper": "beryllium_copper",
    }
)
