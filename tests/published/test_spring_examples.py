"""Springs against worked examples in print, to the digits that are printed."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

import pytest

from sparewell.plugin import Inputs, parse_length
from sparewell_springs import mechanics
from sparewell_springs.calculator import compute
from sparewell_springs.ends import ENDS
from sparewell_springs.settings import SPRING_SETTINGS

NEWTONS_PER_POUND_FORCE = Fraction("4.4482216152605")
GIGAPASCALS_PER_MPSI = NEWTONS_PER_POUND_FORCE / Fraction("0.0254") ** 2 / 1_000
SETTINGS = {setting.name: setting.default for setting in SPRING_SETTINGS}
LENGTHS = {"wire_diameter", "outside_diameter", "mean_diameter", "free_length", "working_length"}


def result_of(**values: str) -> Mapping[str, Any]:
    """Return the calculator's result."""
    read: dict[str, Any] = {}
    for name, value in values.items():
        if name in LENGTHS:
            read[name] = parse_length(value)
        else:
            read[name] = value if name in {"ends", "material"} else Decimal(value)
    return compute(Inputs(read, spreads={}, settings=SETTINGS)).result


def printed(value: object, like: str) -> str:
    """Return a number rounded half up to as many places as the printed one has."""
    exact = Decimal(value.numerator) / value.denominator if isinstance(value, Fraction) else value
    return str(Decimal(str(exact)).quantize(Decimal(like), ROUND_HALF_UP))


def millimetres(nanometres: int) -> Decimal:
    """Return millimetres."""
    return Decimal(nanometres) / 1_000_000


# Source: Shigley's Mechanical Engineering Design, 10th and 11th edition, problem 10-3, published
# solution. Music wire, d 2.5 mm, outside 31 mm, plain and ground ends, 14 coils.
SHIGLEY_10_3 = {
    "wire_diameter": "2.5 mm",
    "outside_diameter": "31 mm",
    "ends": "plain_ground",
    "total_coils": "14",
    "material": "music_wire",
}


def test_shigley_problem_10_3() -> None:
    """D 28.5, C 11.4, Na 13, G 81.0, k 1.314, Ls 35, Sut 1936, Ssy 871.2, KB 1.117, Fs 167.9."""
    result = result_of(**SHIGLEY_10_3)
    assert millimetres(result["mean_diameter"]) == Decimal("28.5")
    assert printed(result["spring_index"], "0.1") == "11.4"
    assert result["active_coils"] == 13
    assert printed(result["shear_modulus_gpa"], "0.1") == "81.0"
    assert printed(result["rate_n_per_mm"], "0.001") == "1.314"
    assert printed(result["rate_n_per_mm"], "0.00001") == "1.31425"
    assert millimetres(result["solid_length"]) == 35
    newer = result["strength"][0]
    assert printed(newer["tensile_mpa"], "1") == "1936"
    assert printed(newer["yield_shear_mpa"], "0.1") == "871.2"
    assert printed(result["curvature_factor"], "0.001") == "1.117"
    # Print goes on with the rounded Ssy 871.2 and KB 1.117, and so reaches 167.9.
    assert printed(newer["force_at_yield_by_curvature_n"], "0.1") == "167.9"
    assert printed(newer["force_at_yield_by_curvature_n"], "0.001") == "167.856"
    assert printed(millimetres(result["buckling_length"]), "0.1") == "149.9"


def test_shigley_problem_10_3_buckles_at_the_length_it_can_bear() -> None:
    """L0 = Ls + Fs / k is 162.72 mm (printed 162.8, rounded on the way), above 149.9."""
    result = result_of(**SHIGLEY_10_3)
    force = Fraction(str(result["strength"][0]["force_at_yield_by_curvature_n"]))
    longest = 35 + force / Fraction(str(result["rate_n_per_mm"]))
    assert printed(longest, "0.01") == "162.72"
    long = dict(SHIGLEY_10_3, free_length="162.72 mm")
    read = {
        name: parse_length(value) if name in LENGTHS else value
        for name, value in long.items()
        if name != "total_coils"
    }
    answer = compute(Inputs(read | {"total_coils": Decimal(14)}, spreads={}, settings=SETTINGS))
    assert any("buckle" in warning for warning in answer.warnings)


@pytest.mark.parametrize(("index", "percent"), [(4, "1.3631"), (12, "0.743")])
def test_shigley_problem_10_1(index: int, percent: str) -> None:
    """The Wahl factor and the newer one differ by 1.3631 % at C = 4 and 0.743 % at C = 12."""
    # Source: Shigley's Mechanical Engineering Design, problem 10-1.
    wahl = mechanics.wahl_factor(Fraction(index))
    newer = mechanics.curvature_factor(Fraction(index))
    assert printed(100 * (wahl - newer) / wahl, percent) == percent


def test_machine_design_example_8_2_in_inches() -> None:
    """D .105, D .620, G 11.85 Mpsi, Na 10.792: 70.00 lbf/in, and 12.79 coils in all."""
    # Source: Machine Design in inch units, example 8.2, by an open companion of worked examples.
    modulus = Decimal(str(float(GIGAPASCALS_PER_MPSI * Fraction("11.85"))))
    result = result_of(
        wire_diameter="0.105 in",
        mean_diameter="0.620 in",
        active_coils="10.792",
        ends="squared_ground",
        shear_modulus_gpa=str(modulus),
    )
    per_inch = Fraction(str(result["rate_n_per_mm"])) * Fraction("25.4") / NEWTONS_PER_POUND_FORCE
    assert printed(per_inch, "0.01") == "70.00"
    assert printed(result["total_coils"], "0.01") == "12.79"


def test_machine_design_example_8_2_pitch() -> None:
    """At 2 in free the pitch is (2 - 2 d) / Nt = .1399 in by that book's own rule for it."""
    # Its rule divides by all coils; ours by the active ones, so the figure is turned back here.
    end = ENDS["squared_ground"]
    wire, free = parse_length("0.105 in"), parse_length("2 in")
    active = Fraction("10.792")
    ours = end.pitch_nanometres(free, wire, active)
    theirs = ours * active / (active + 2) / parse_length("1 in")
    assert printed(theirs, "0.0001") == "0.1399"


def test_machine_design_one_example_8_1() -> None:
    """C 8: KW 1.1840; d 4.25, D 34, Na 14, G 84 GPa: 6.2256 N/mm; 16 coils solid at 68 mm."""
    # Source: Machine Design-I, example 8.1, by the same companion.
    result = result_of(
        wire_diameter="4.25 mm",
        mean_diameter="34 mm",
        active_coils="14",
        ends="squared_ground",
        shear_modulus_gpa="84",
    )
    assert printed(result["wahl_factor"], "0.0001") == "1.1840"
    assert printed(result["rate_n_per_mm"], "0.0001") == "6.2256"
    assert result["total_coils"] == 16
    assert millimetres(result["solid_length"]) == 68


def test_calculator_page_example() -> None:
    """D 1, D 10, Na 8, G 79.3, pressed 10 mm: 1.2391 N/mm, 12.391 N, KW 1.14483, 361.2 MPa."""
    # Source: the worked example of a public calculator page on compression springs.
    result = result_of(
        wire_diameter="1 mm",
        mean_diameter="10 mm",
        active_coils="8",
        ends="plain",
        shear_modulus_gpa="79.3",
        free_length="40 mm",
        working_length="30 mm",
    )
    assert printed(result["rate_n_per_mm"], "0.0001") == "1.2391"
    assert printed(result["wahl_factor"], "0.00001") == "1.14483"
    (force,) = result["forces"]
    assert printed(force["force_n"], "0.001") == "12.391"
    assert printed(force["stress_mpa"], "0.1") == "361.2"


def test_pen_sized_spring_by_hand() -> None:
    """D .5, D 4.5, Na 8, G 82.7: 82700 x .0625 / (8 x 91.125 x 8) = 0.88627 N/mm."""
    # Worked by hand from the formulas of Shigley, chapter 10; there is no published source.
    result = result_of(
        wire_diameter="0.5 mm", mean_diameter="4.5 mm", active_coils="8", ends="squared_ground",
        shear_modulus_gpa="82.7",
    )  # fmt: skip
    assert printed(result["rate_n_per_mm"], "0.00001") == "0.88627"
    assert result["spring_index"] == 9
    assert printed(result["wahl_factor"], "0.00001") == "1.16208"
    assert printed(result["curvature_factor"], "0.00001") == "1.15152"
    assert millimetres(result["solid_length"]) == 5


def test_direct_shear_takes_half_a_percent_at_ten() -> None:
    """K / (1 + 1 / (2 C^2)) is 0.5 % less at C = 10 and 1.4 % less at C = 6."""
    # Source: the exact energy form, as mechanics of materials gives it.
    for index, percent in ((10, "0.5"), (6, "1.4")):
        less = 1 - mechanics.rate_with_direct_shear(Fraction(1), Fraction(index))
        assert printed(100 * less, percent) == percent


@pytest.mark.parametrize(
    ("name", "dead", "solid_more", "pitches", "wires"),
    [
        # Source: Shigley's Mechanical Engineering Design, Table 10-1; Machinery's Handbook,
        # 31st edition, p. 318. Nt - Na; Ls / d - Nt; L0 = p (Na + pitches) + wires d.
        ("plain", 0, 1, 0, 1),
        ("plain_ground", 1, 0, 1, 0),
        ("squared", 2, 1, 0, 3),
        ("squared_ground", 2, 0, 0, 2),
    ],
)
def test_table_of_ends(name: str, dead: int, solid_more: int, pitches: int, wires: int) -> None:
    """Dead coils, solid length and free length of each kind of ends are those of the table."""
    end = ENDS[name]
    active, wire, pitch = Fraction(7), 500_000, Fraction(1_700_000)
    total = active + dead
    assert end.dead == dead
    assert end.solid_nanometres(wire, total) == wire * (total + solid_more)
    free = pitch * (active + pitches) + wires * wire
    assert end.pitch_nanometres(int(free), wire, active) == pitch
