"""What each system takes, what limits it, and which inputs cannot be true."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewell.extend.calculation import dump_result
from sparewell.plugin import ImpossibleInput
from sparewell_fills.calculator import FILL_CALCULATOR, compute
from sparewell_fills.filling import Air

PNEUMATIC = {
    "system": "pneumatic",
    "air_volume_ml": "4.0",
    "swept_volume_ml": "1.8",
    "sac_volume_ml": "1.3",
}
SAC = {"system": "sac", "sac_inside_diameter": "5.45", "sac_length": "60"}
PISTON = {"system": "piston", "barrel_bore": "8", "stroke": "30"}
PLUNGER = {"system": "plunger", "barrel_bore": "8", "stroke": "40", "rod_diameter": "2"}
EVERY = (PNEUMATIC, SAC, PISTON, PLUNGER, PLUNGER | {"weighed_ml": "0.5"})


@pytest.mark.parametrize("given_", EVERY)
def test_result_is_what_the_outputs_declare(inputs_of, given_) -> None:
    """Every member of every result is declared, and low is never above high."""
    result = dump_result(FILL_CALCULATOR.outputs, compute(inputs_of(**given_)).result)
    assert 0 <= result["fill_ml"]["low"] <= result["fill_ml"]["high"]


def test_sac_takes_a_share_of_its_volume(answer_of) -> None:
    """A 16 of 60 mm holds 1.40 ml, of which 55 to 85 % fills; the sac itself is the limit."""
    result = answer_of(**SAC).result
    assert result["sac_volume_ml"] == Decimal("1.40")
    assert result["fill_ml"] == {"low": Decimal("0.77"), "high": Decimal("1.19")}
    assert result["limited_by"] == "sac"


def test_sac_by_its_outside_and_wall_is_the_same_sac(answer_of) -> None:
    """Outside less two walls is the inside; what stands on the nipple holds nothing."""
    inside = answer_of(**SAC).result["sac_volume_ml"]
    by_wall = {"system": "sac", "sac_outside_diameter": "1/4 in", "sac_length": "60"}
    assert answer_of(**by_wall).result["sac_volume_ml"] == inside
    assert answer_of(**by_wall, sac_wall="0.45").result["sac_volume_ml"] == inside
    half = answer_of(**SAC, nipple_length="30").result["sac_volume_ml"]
    assert half == Decimal("0.70")


def test_piston_draws_its_sweep(answer_of) -> None:
    """A bore of 8 mm over 30 mm sweeps 1.51 ml; a sound one draws 85 % of it or more."""
    result = answer_of(**PISTON).result
    assert result["swept_volume_ml"] == Decimal("1.51")
    assert result["fill_ml"] == {"low": Decimal("1.28"), "high": Decimal("1.51")}
    assert result["limited_by"] == "stroke"


def test_plunger_sweeps_less_by_its_rod(answer_of) -> None:
    """A rod of a quarter of the bore takes a sixteenth of the sweep; up to 20 % may leak."""
    bare = answer_of(**{name: v for name, v in PLUNGER.items() if name != "rod_diameter"}).result
    result = answer_of(**PLUNGER).result
    assert (bare["swept_volume_ml"], result["swept_volume_ml"]) == (
        Decimal("2.01"),
        Decimal("1.88"),
    )
    assert result["fill_ml"] == {"low": Decimal("1.51"), "high": Decimal("1.88")}


def test_a_leak_that_is_given_counts_at_both_ends(answer_of) -> None:
    """A plunger that loses half takes half, and the leak is named as what limits it."""
    result = answer_of(**PLUNGER, leak_percent="50").result
    assert result["fill_ml"] == {"low": Decimal("0.94"), "high": Decimal("0.94")}
    assert result["limited_by"] == "leak"


@pytest.mark.parametrize(
    ("changes", "limit"),
    [
        ({"sac_stiffness_kpa": "2"}, "sac"),
        ({"sac_stiffness_kpa": "20"}, "stiffness"),
        ({"sac_stiffness_kpa": "2", "swept_volume_ml": "1"}, "stroke"),
        ({"sac_stiffness_kpa": "2", "leak_percent": "20"}, "leak"),
    ],
)
def test_the_limit_of_a_pneumatic_filler_is_what_takes_most(answer_of, changes, limit) -> None:
    """Sac, stiffness, stroke or leak, whichever costs the largest part of a full sac."""
    assert answer_of(**PNEUMATIC | changes).result["limited_by"] == limit


def test_a_sac_of_unknown_material_spans_all_of_them(answer_of) -> None:
    """Unknown runs from the softest latex to the stiffest silicone, and says so."""
    unknown = answer_of(**PNEUMATIC)
    assert unknown.result["stiffness_kpa"] == {"low": Decimal("2.0"), "high": Decimal("20.0")}
    # Low: 1.8 - 4 x (20 + 5 % of 101.325) / 121.325; high: the whole sac.
    assert unknown.result["fill_ml"] == {"low": Decimal("0.97"), "high": Decimal("1.30")}
    assert any("not known" in warning for warning in unknown.warnings)
    latex = answer_of(**PNEUMATIC, sac_material="latex")
    assert latex.result["stiffness_kpa"] == {"low": Decimal("2.0"), "high": Decimal("5.0")}
    assert latex.result["fill_ml"] == {"low": Decimal("1.10"), "high": Decimal("1.30")}


def test_a_hopeless_sac_fills_nothing(answer_of) -> None:
    """A sac stiffer than the stroke can press gives nothing, never less than nothing."""
    answer = answer_of(**PNEUMATIC, sac_stiffness_kpa="150")
    assert answer.result["fill_ml"] == {"low": 0, "high": 0}
    assert any("does not collapse" in warning for warning in answer.warnings)


def test_air_and_stroke_may_be_measured(answer_of) -> None:
    """Bore and depth less the outside of the sac are the air, tube and stroke the sweep."""
    result = answer_of(
        system="pneumatic",
        barrel_bore="10",
        barrel_depth="80",
        tube_diameter="7",
        stroke="40",
        sac_inside_diameter="5.45",
        sac_wall="0.45",
        sac_length="40",
    ).result
    assert result["air_volume_ml"] == Decimal("5.02")  # 6.283 - 1.267
    assert result["swept_volume_ml"] == Decimal("1.54")


IMPOSSIBLE = (
    ("no sac", {"system": "sac"}, "sac_inside_diameter"),
    ("no length", {"system": "sac", "sac_inside_diameter": "5"}, "sac_length"),
    ("swapped", SAC | {"sac_outside_diameter": "5"}, "sac_inside_diameter"),
    ("equal", SAC | {"sac_outside_diameter": "5.45"}, "sac_inside_diameter"),
    (
        "walls fill it",
        {"system": "sac", "sac_outside_diameter": "6", "sac_wall": "3", "sac_length": "60"},
        "sac_wall",
    ),
    ("all nipple", SAC | {"nipple_length": "60"}, "nipple_length"),
    ("volume twice", SAC | {"sac_volume_ml": "1"}, "sac_inside_diameter"),
    ("sweep twice", PISTON | {"swept_volume_ml": "1"}, "stroke"),
    ("no stroke", {"system": "piston", "barrel_bore": "8"}, "stroke"),
    ("no bore", {"system": "plunger", "stroke": "8"}, "barrel_bore"),
    ("rod swapped", PLUNGER | {"rod_diameter": "9"}, "rod_diameter"),
    ("rod fills bore", PLUNGER | {"rod_diameter": "8"}, "rod_diameter"),
    ("all air swept", PNEUMATIC | {"swept_volume_ml": "4"}, "swept_volume_ml"),
    (
        "no air",
        {
            "system": "pneumatic",
            "barrel_bore": "6",
            "barrel_depth": "40",
            "swept_volume_ml": "1",
            "sac_outside_diameter": "6.35",
            "sac_length": "40",
        },
        "barrel_depth",
    ),
    ("air twice", PNEUMATIC | {"barrel_depth": "80"}, "barrel_depth"),
    ("fill twice", PISTON | {"weighed_ml": "1", "water_grams": "1"}, "water_grams"),
)


@pytest.mark.parametrize(("given_", "name"), [case[1:] for case in IMPOSSIBLE])
def test_what_cannot_be_true_is_refused_at_its_input(answer_of, given_, name) -> None:
    """Missing, doubled, swapped and contradicting inputs are refused, each at its own name."""
    with pytest.raises(ImpossibleInput) as refusal:
        answer_of(**given_)
    assert refusal.value.problems[0][0] == name


def test_what_a_system_has_no_use_for_is_named(answer_of) -> None:
    """An input of another system is not used, and the answer says so."""
    answer = answer_of(**PISTON, sac_length="60", tube_diameter="7")
    assert any("sac_length, tube_diameter" in warning for warning in answer.warnings)
    assert not answer_of(**PISTON).warnings


def test_every_setting_is_used_and_named(inputs_of) -> None:
    """No setting stands idle, each has a source, and the fill test warns of casein."""
    read: set[str] = set()
    more = (
        PNEUMATIC | {"weighed_ml": "0.5"},
        PISTON | {"water_grams": "0.5", "weighed_from": "dry"},
        {"system": "sac", "sac_outside_diameter": "7", "sac_length": "60"},
    )
    for given_ in (*EVERY, *more):
        inputs = inputs_of(**given_)
        assert any("Casein" in caution for caution in compute(inputs).cautions)
        read |= set(inputs.settings_read)
    assert read == {setting.name for setting in FILL_CALCULATOR.settings}
    assert all(setting.source for setting in FILL_CALCULATOR.settings)


_VOLUME = st.fractions(min_value=Fraction(1, 10), max_value=10, max_denominator=1000)
_SHARE = st.fractions(min_value=0, max_value=1, max_denominator=1000)
_KILOPASCALS = st.fractions(min_value=0, max_value=100, max_denominator=1000)


@given(_VOLUME, _SHARE, _KILOPASCALS, _SHARE)
def test_boyle_holds_exactly(air_ml, swept_share, stiffness, leak) -> None:
    """The collapse solves (1 - x) P V = (P + p) (V - S + C) to the last digit, or is nothing."""
    air = Air(Fraction(100), air_ml, air_ml * swept_share * Fraction(9, 10), Fraction(1))
    collapse = air.collapse(stiffness, leak)
    left = (1 - leak) * air.pressure * air_ml
    right = (air.pressure + stiffness) * (air_ml - air.swept + collapse)
    assert left == right if collapse else left <= right


@given(_VOLUME, _KILOPASCALS, _KILOPASCALS, _SHARE, _SHARE)
def test_stiffer_or_leakier_never_fills_more(air_ml, one, other, leak, leakier) -> None:
    """The collapse never rises with stiffness or leak, and both explanations undo it exactly."""
    air = Air(Fraction(100), air_ml, air_ml / 2, Fraction(1))
    soft, stiff = sorted((one, other))
    less, more = sorted((leak, leakier))
    assert air.collapse(stiff, less) <= air.collapse(soft, less)
    assert air.collapse(soft, more) <= air.collapse(soft, less)
    airtight = air.collapse(soft, Fraction(0))
    if airtight:
        assert air.stiffness_that_gives(airtight) == soft
    leaking = air.collapse(soft, less)
    if leaking:
        assert air.leak_that_gives(leaking, soft) == less
