"""What a measured spring does: rate and band, lengths, forces, stress; what is said beside it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.plugin import parse_length
from sparewell_springs.calculator import compute


def test_rate_index_and_solid_length(spring_inputs, pen_spring) -> None:
    """Wire 0.5, mean 4.5, 8 active coils at 82.7 GPa: 0.886274 N/mm, C 9, solid at 5 mm."""
    result = compute(spring_inputs(**pen_spring)).result
    assert result["rate_n_per_mm"] == Decimal("0.886274")
    assert result["spring_index"] == 9
    assert result["active_coils"] == 8
    assert result["solid_length"] == parse_length("5")
    assert result["shear_modulus_gpa"] == Decimal("82.7")


@pytest.mark.parametrize(
    ("ends", "active", "solid", "pitch"),
    [
        # d 0.5, 10 coils, free 16: solid d (Nt + 1) or d Nt; pitch from the free length.
        ("plain", 10, "5.5", "1.55"),
        ("plain_ground", 9, "5", "1.6"),
        ("squared", 8, "5.5", "1.8125"),
        ("squared_ground", 8, "5", "1.875"),
    ],
)
def test_ends_take_their_coils(spring_inputs, pen_spring, ends, active, solid, pitch) -> None:
    """Active coils, solid length and pitch follow the table of ends."""
    result = compute(spring_inputs(**{**pen_spring, "ends": ends})).result
    assert result["active_coils"] == active
    assert result["solid_length"] == parse_length(solid)
    assert result["pitch"] == parse_length(pitch)
    assert result["travel"] == parse_length("16") - parse_length(solid)


def test_outside_and_mean_diameter_say_the_same(spring_inputs, pen_spring) -> None:
    """5.0 outside and 4.5 mean give one rate; given together they agree."""
    outside = compute(spring_inputs(**pen_spring)).result
    mean = {name: value for name, value in pen_spring.items() if name != "outside_diameter"}
    by_mean = compute(spring_inputs(**mean, mean_diameter="4.5")).result
    both = compute(spring_inputs(**pen_spring, mean_diameter="4.5")).result
    assert outside["rate_n_per_mm"] == by_mean["rate_n_per_mm"] == both["rate_n_per_mm"]
    assert by_mean["outside_diameter"] == parse_length("5")
    assert by_mean["inside_diameter"] == parse_length("4")


def test_active_coils_instead_of_total_ones(spring_inputs, pen_spring) -> None:
    """8 active coils with squared ends are 10 in all."""
    coils = {name: value for name, value in pen_spring.items() if name != "total_coils"}
    result = compute(spring_inputs(**coils, active_coils="8")).result
    assert result["total_coils"] == 10
    assert result["rate_n_per_mm"] == Decimal("0.886274")


def test_both_counts_tell_the_ends(spring_inputs) -> None:
    """9 active of 10 coils are plain and ground ends; nothing is assumed then."""
    answer = compute(
        spring_inputs(wire_diameter="0.5", mean_diameter="4.5", total_coils="10", active_coils="9")
    )
    assert answer.result["ends"] == "plain_ground"
    assert not any("No ends" in warning for warning in answer.warnings)


def test_band_goes_with_the_fourth_power_of_the_wire(spring_inputs, exact) -> None:
    """±2 % on the wire, mean diameter held: the band is 0.98^4 to 1.02^4 of the rate."""
    result = compute(
        spring_inputs(
            wire_diameter="0.5",
            mean_diameter="4.5",
            active_coils="8",
            ends="plain",
            spreads={"wire_diameter": "0.01"},
        )
    ).result
    rate = exact(result["rate_n_per_mm"])
    band = result["rate_band_n_per_mm"]
    assert float(exact(band["min"]) / rate) == pytest.approx(0.98**4, rel=1e-5)
    assert float(exact(band["max"]) / rate) == pytest.approx(1.02**4, rel=1e-5)


def test_band_moves_the_mean_diameter_with_the_wire(spring_inputs, exact) -> None:
    """Read from outside, a thicker wire makes a smaller coil: corners at (5 ∓ s - d ∓ w)."""
    result = compute(
        spring_inputs(
            wire_diameter="0.5",
            outside_diameter="5",
            active_coils="8",
            ends="plain",
            spreads={"wire_diameter": "0.01", "outside_diameter": "0.05"},
        )
    ).result
    rate = exact(result["rate_n_per_mm"])
    least = (0.49 / 0.5) ** 4 / ((5.05 - 0.49) / 4.5) ** 3
    most = (0.51 / 0.5) ** 4 / ((4.95 - 0.51) / 4.5) ** 3
    assert float(exact(result["rate_band_n_per_mm"]["min"]) / rate) == pytest.approx(least, 1e-5)
    assert float(exact(result["rate_band_n_per_mm"]["max"]) / rate) == pytest.approx(most, 1e-5)


def test_without_spreads_the_band_rests_on_settings(spring_inputs, pen_spring) -> None:
    """No spread noted: the settings stand in, are named, and a warning speaks of the wire."""
    inputs = spring_inputs(**pen_spring)
    answer = compute(inputs)
    assert answer.result["rate_band_n_per_mm"]["min"] < answer.result["rate_n_per_mm"]
    assert "spring.wire_uncertainty" in inputs.settings_read
    assert any("fourth power" in warning for warning in answer.warnings)
    noted = spring_inputs(**pen_spring, spreads={"wire_diameter": "0.005"})
    assert not any("fourth power" in warning for warning in compute(noted).warnings)


def test_readings_that_leave_no_coil_have_no_upper_end(spring_inputs) -> None:
    """Where the spreads make the index 1, the rate has no most, and no least without wire."""
    result = compute(
        spring_inputs(
            wire_diameter="0.5",
            mean_diameter="0.6",
            active_coils="8",
            spreads={"wire_diameter": "0.5", "mean_diameter": "0.2"},
        )
    ).result
    assert result["rate_band_n_per_mm"] == {"min": 0, "max": None}


def test_forces_at_each_length(spring_inputs, pen_spring, exact) -> None:
    """16 free at 0.886274 N/mm: 12 mm is 3.5451 N, 14 mm 1.77255 N; both in the order given."""
    result = compute(
        spring_inputs(
            **pen_spring, working_length="12", installed_length="14", working_lengths=["13", "15"]
        )
    ).result
    forces = {each["length"]: each for each in result["forces"]}
    assert list(forces) == [parse_length(length) for length in ("14", "12", "13", "15")]
    assert forces[parse_length("12")]["at"] == "working_length"
    assert forces[parse_length("12")]["force_n"] == Decimal("3.54510")
    assert forces[parse_length("14")]["force_n"] == Decimal("1.77255")
    assert float(exact(result["force_solid_n"])) == pytest.approx(0.8862741 * 11, rel=1e-5)


def test_solid_before_the_working_length_is_said(spring_inputs, pen_spring) -> None:
    """At 4.9 mm, under 5 mm solid: no force, and a warning that it would be crushed."""
    answer = compute(spring_inputs(**pen_spring, working_length="4.9"))
    (force,) = answer.result["forces"]
    assert force["solid"] is True
    assert force["force_n"] is None
    assert "crushed" in answer.warnings[0]
    exactly = compute(spring_inputs(**pen_spring, working_length="5"))
    assert exactly.result["forces"][0]["solid"] is False
    assert "within 0 mm of being solid" in exactly.warnings[0]


def test_stress_and_both_sets_of_strength_are_named(spring_inputs, pen_spring, exact) -> None:
    """Solid: 9.749 N, KW 1.16208: 1038.6 MPa; strengths 2445 and 2306 MPa, 45 % in torsion."""
    result = compute(spring_inputs(**pen_spring)).result
    assert result["wahl_factor"] == Decimal("1.16208")
    stress = 1.162083 * 8 * 0.8862741 * 11 * 4.5 / (3.14159265 * 0.125)
    assert float(exact(result["stress_solid_mpa"])) == pytest.approx(stress, rel=1e-5)
    newer, older = result["strength"]
    assert (newer["set"], older["set"]) == ("shigley_8th_on", "older_handbook")
    assert newer["tensile_mpa"] == Decimal("2444.8")
    assert older["tensile_mpa"] == Decimal("2306.4")
    assert newer["yield_shear_mpa"] == Decimal("1100.1")
    assert newer["source"] != older["source"]
    share = 100 * exact(result["stress_solid_mpa"]) / exact(newer["yield_shear_mpa"])
    assert float(exact(newer["share_at_solid_percent"])) == pytest.approx(float(share), abs=0.06)


def test_a_spring_that_would_set_is_warned_of(spring_inputs, pen_spring) -> None:
    """25 mm free is too long for its wire: set when pressed solid, set at 12 mm too."""
    answer = compute(spring_inputs(**{**pen_spring, "free_length": "25"}, working_length="12"))
    assert sum("would set shorter" in warning for warning in answer.warnings) == 2
    assert answer.result["forces"][0]["yield_percent"] > 100
    calm = compute(spring_inputs(**{**pen_spring, "free_length": "15"}, working_length="12"))
    assert not any("would set shorter" in warning for warning in calm.warnings)


@pytest.mark.parametrize(
    ("wire", "mean", "word"),
    [
        ("0.5", "1.99", "below 4"),
        ("0.5", "2", None),
        ("0.5", "6", None),
        ("0.5", "6.01", "above 12"),
    ],
)
def test_index_outside_4_to_12_is_warned_of(spring_inputs, wire, mean, word) -> None:
    """Just outside either bound there is a warning, on the bound there is none."""
    warnings = compute(
        spring_inputs(wire_diameter=wire, mean_diameter=mean, active_coils="8", ends="plain")
    ).warnings
    found = [warning for warning in warnings if "spring index" in warning]
    assert bool(found) is (word is not None)
    assert word is None or word in found[0]


def test_modulus_as_given_wins_over_the_materials(spring_inputs, pen_spring) -> None:
    """The rate rests on it, the strength still on the material, and that is said."""
    answer = compute(spring_inputs(**pen_spring, shear_modulus_gpa="41.35"))
    assert answer.result["rate_n_per_mm"] == Decimal("0.443137")
    assert answer.result["strength"][0]["tensile_mpa"] == Decimal("2444.8")
    assert any("as given is used" in warning for warning in answer.warnings)


@pytest.mark.parametrize(
    ("material", "modulus", "sets"),
    [
        ("music_wire", "82.7", 2),
        ("hard_drawn", "80.7", 2),
        ("oil_tempered", "77.2", 2),
        ("stainless_302", "69", 1),
        ("phosphor_bronze", "41.4", 1),
        ("brass", "38", 0),
        ("beryllium_copper", "44.8", 0),
    ],
)
def test_each_material_has_its_modulus_and_its_sets(
    spring_inputs, pen_spring, material, modulus, sets
) -> None:
    """Moduli as tabled; where no strength is published none is invented."""
    answer = compute(spring_inputs(**{**pen_spring, "material": material}))
    assert answer.result["shear_modulus_gpa"] == Decimal(modulus)
    assert len(answer.result["strength"]) == sets
    assert any("No published strength" in warning for warning in answer.warnings) is (sets == 0)
    is_steel = material not in {"phosphor_bronze", "brass", "beryllium_copper"}
    assert (answer.result["buckling_length"] is not None) is is_steel


def test_wire_outside_the_range_of_a_set_is_an_extrapolation(spring_inputs, pen_spring) -> None:
    """Hard-drawn constants begin at 0.028 in; 0.5 mm is thinner, and is said to be."""
    answer = compute(spring_inputs(**{**pen_spring, "material": "hard_drawn"}))
    newer = answer.result["strength"][0]
    assert newer["in_range"] is False
    assert any("extrapolation" in warning for warning in answer.warnings)


def test_what_was_assumed_is_said(spring_inputs) -> None:
    """Neither ends nor material: both assumptions are named with what they matter."""
    answer = compute(spring_inputs(wire_diameter="0.5", outside_diameter="5", total_coils="10"))
    assert answer.result["ends"] == "squared"
    assert any("plain ends would leave 10 active" in warning for warning in answer.warnings)
    assert any("softer" in warning for warning in answer.warnings)


def test_assumed_ends_do_not_refuse_what_other_ends_allow(spring_inputs) -> None:
    """9.2 mm free with 8 active coils of 1 mm is possible with plain ends, so it is not refused."""
    short = {"wire_diameter": "1", "mean_diameter": "10", "active_coils": "8"}
    answer = compute(spring_inputs(**short, free_length="9.2"))
    assert any("no travel" in warning for warning in answer.warnings)
    assert answer.result["travel"] == 0


def test_long_springs_buckle_unless_they_are_guided(spring_inputs, pen_spring) -> None:
    """Over 2.63 x 4.5 / 0.5 = 23.67 mm free; a rod inside holds it."""
    long = {**pen_spring, "free_length": "24"}
    assert any("buckle" in warning for warning in compute(spring_inputs(**long)).warnings)
    guided = compute(spring_inputs(**long, rod_diameter="3"))
    assert not any("buckle" in warning for warning in guided.warnings)
    short = compute(spring_inputs(**{**pen_spring, "free_length": "23.6"}))
    assert not any("buckle" in warning for warning in short.warnings)


def test_spring_that_does_not_go_where_it_belongs_is_doubted(spring_inputs, pen_spring) -> None:
    """4 mm inside over a rod of 4.1, 5 mm outside in a bore of 4.9: it may be another pen's."""
    for place in ({"rod_diameter": "4.1"}, {"bore_diameter": "4.9"}):
        warnings = compute(spring_inputs(**pen_spring, **place)).warnings
        assert any("spring of this pen" in warning for warning in warnings)
    assert not any(
        "spring of this pen" in warning
        for warning in compute(
            spring_inputs(**pen_spring, rod_diameter="3.8", bore_diameter="5.2")
        ).warnings
    )


def test_forces_without_a_free_length_are_asked_for(spring_inputs, pen_spring) -> None:
    """Lengths in use without the free one: none worked out, and what is missing is said."""
    bare = {name: value for name, value in pen_spring.items() if name != "free_length"}
    answer = compute(spring_inputs(**bare, working_length="12"))
    assert answer.result["forces"] == []
    assert answer.result["force_solid_n"] is None
    assert any("free length is needed" in warning for warning in answer.warnings)


def test_springs_fly(spring_inputs, pen_spring) -> None:
    """Eye protection comes first among the cautions, and the products' safety sheets are named."""
    cautions = compute(spring_inputs(**pen_spring)).cautions
    assert "eye protection" in cautions[0]
    assert any("safety sheets" in caution for caution in cautions)
