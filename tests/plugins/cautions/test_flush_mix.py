"""The ammonia flush: what to measure out, what is refused, what is off until a person says why."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewell.extend.calculation import dump_result
from sparewell.plugin import ImpossibleInput, Inputs
from sparewell_cautions.calculator import FLUSH_MIX_CALCULATOR, compute

PLAIN = {"ammonia_percent": "5", "volume_ml": "100", "material": "hard rubber"}
SAFE = {"gold_nib": False, "latex": False, "copper_alloy": False, "plated_trim": False}


def test_nine_parts_of_water_to_one_of_a_common_bottle(answer_of) -> None:
    """Of a bottle of 5 %, 10 ml go into 90 ml of water with two drops of soap."""
    result = dump_result(FLUSH_MIX_CALCULATOR.outputs, answer_of(**PLAIN, **SAFE).result)
    assert (result["ammonia_ml"], result["water_ml"], result["soap_drops"]) == (10, 90, 2)
    assert (result["parts_of_water"], result["strength_percent"]) == (9, 0.5)
    assert (result["allowed"], result["advice"]) == (True, "mix")
    assert result["off_because"] == []


@pytest.mark.parametrize(
    ("percent", "volume", "ammonia", "water", "drops"),
    [
        ("10", "100", "5.0", "95.0", 2),
        ("9.5", "250", "13.2", "236.8", 5),
        ("0.5", "60", "60.0", "0.0", 2),
        ("10", "10", "0.50", "9.50", 1),
        ("8", "33.3", "2.1", "31.2", 1),
    ],
)
def test_a_stronger_bottle_gives_less(answer_of, percent, volume, ammonia, water, drops) -> None:
    """Ammonia is the volume times target over bottle; the two add up to what was wanted."""
    values = PLAIN | {"ammonia_percent": percent, "volume_ml": volume}
    result = answer_of(**values).result
    assert result["ammonia_ml"] == Decimal(ammonia)
    assert result["water_ml"] == Decimal(water)
    assert result["soap_drops"] == drops


def test_the_target_is_a_setting(answer_of) -> None:
    """A workshop that wants it half as strong takes half as much."""
    weaker = {"flush_mix.target_percent": Decimal("0.25")}
    assert answer_of(**PLAIN, changed_settings=weaker).result["ammonia_ml"] == Decimal("5.0")


@pytest.mark.parametrize("reason", [None, "the owner insists"])
@pytest.mark.parametrize(
    "material",
    [
        None,
        "casein",
        "Casein, steel",
        "unknown",
        "pearly stuff",
        "hard rubber and pearly stuff",
        ",",
    ],
)
def test_casein_and_the_unknown_are_refused_whatever_the_reason(
    answer_of, material, reason
) -> None:
    """Casein, an unknown material and no material at all are refused; no reason lifts it."""
    values = PLAIN | {"material": material, "override_reason": reason}
    with pytest.raises(ImpossibleInput) as refusal:
        answer_of(**{name: value for name, value in values.items() if value is not None})
    assert refusal.value.problems[0][0] == "material"
    assert "no water" in refusal.value.problems[0][1]


def test_a_flag_does_not_make_a_pen_known(answer_of) -> None:
    """Saying that a gold nib goes in, with a reason, does not say what the pen is made of."""
    with pytest.raises(ImpossibleInput):
        answer_of(ammonia_percent="5", volume_ml="100", gold_nib=True, override_reason="mine")


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"gold_nib": True}, "gold nib"),
        ({"latex": True}, "latex"),
        ({"copper_alloy": True}, "copper alloy"),
        ({"plated_trim": True}, "plated trim"),
        ({"material": "celluloid, gold nib"}, "gold nib"),
        ({"material": "acrylic; latex"}, "latex"),
        ({"material": "Brass"}, "copper alloy"),
        ({"material": "metal"}, "copper alloy"),
        ({"material": "hard rubber, gold-filled"}, "plated trim"),
        ({"material": "brass", "copper_alloy": False}, "copper alloy"),
    ],
)
def test_off_by_default_gives_no_amounts_until_a_reason_is_given(answer_of, change, word) -> None:
    """The answer says do not, with nothing to pour; with a reason it gives amounts and says so."""
    answer = answer_of(**PLAIN | change)
    result = dump_result(FLUSH_MIX_CALCULATOR.outputs, answer.result)
    assert (result["allowed"], result["advice"]) == (False, "do_not")
    assert (result["ammonia_ml"], result["water_ml"], result["soap_drops"]) == (None, None, None)
    assert any(word in why for why in result["off_because"])
    assert any(warning.startswith("Do not") for warning in answer.warnings)
    overridden = answer_of(**PLAIN | change, override_reason="five seconds, and rinsed")
    assert overridden.result["advice"] == "overridden"
    assert overridden.result["ammonia_ml"] == 10
    assert overridden.result["override_reason"] == "five seconds, and rinsed"
    assert any(warning.startswith("Overridden") for warning in overridden.warnings)


def test_what_was_not_said_is_asked(answer_of) -> None:
    """Parts neither named nor denied are listed; once all are denied nothing is asked."""
    asked = [warning for warning in answer_of(**PLAIN).warnings if "Not said" in warning]
    assert "gold nib, latex, copper alloy, plated trim" in asked[0]
    assert not any("Not said" in warning for warning in answer_of(**PLAIN, **SAFE).warnings)


@pytest.mark.parametrize(
    ("percent", "word"),
    [("0.4", "cannot make"), ("10.1", "no household ammonia"), ("25", "no house")],
)
def test_a_bottle_too_weak_or_too_strong_is_refused(answer_of, percent, word) -> None:
    """A bottle below the flush cannot make it; one that is no household ammonia is left alone."""
    with pytest.raises(ImpossibleInput, match=word) as refusal:
        answer_of(**PLAIN | {"ammonia_percent": percent})
    assert refusal.value.problems[0][0] == "ammonia_percent"


@pytest.mark.parametrize(
    "change", [{}, {"latex": True}, {"latex": True, "override_reason": "a test piece"}]
)
def test_cautions_always_stand_beside_it(answer_of, change) -> None:
    """Whatever is answered, bleach, air, the safety sheet and casein are spoken of."""
    cautions = " ".join(answer_of(**PLAIN | change).cautions)
    for words in ("bleach", "open a window", "safety sheet", "Casein: no water", "gold nibs"):
        assert words in cautions


def test_bodies_with_a_weakness_are_named(answer_of) -> None:
    """Faded hard rubber, celluloid and FKM seals get their own words."""
    warnings = " ".join(answer_of(**PLAIN | {"material": "ebonite, celluloid, fkm"}).warnings)
    assert "brown or spotted" in warnings
    assert "cool water only" in warnings
    assert "FKM" in warnings
    assert not answer_of(**PLAIN | SAFE | {"material": "steel"}).warnings
    useless = answer_of(**PLAIN | SAFE | {"material": "steel"}, override_reason="because")
    assert any("nothing here needed" in warning for warning in useless.warnings)
    assert useless.result["override_reason"] is None


def test_every_setting_is_read(inputs_of) -> None:
    """All settings are used by a plain answer and say that they are common practice."""
    inputs = inputs_of(**PLAIN)
    compute(inputs)
    assert set(inputs.settings_read) == {s.name for s in FLUSH_MIX_CALCULATOR.settings}
    assert all(setting.source for setting in FLUSH_MIX_CALCULATOR.settings)


@given(
    st.decimals(Decimal("0.5"), Decimal(10), places=2),
    st.decimals(Decimal(10), Decimal(5000), places=1),
)
def test_volumes_add_up_and_the_strength_is_never_far_off(percent, volume) -> None:
    """Ammonia and water make exactly the volume; the flush is within its rounding of the target."""
    settings = {setting.name: setting.default for setting in FLUSH_MIX_CALCULATOR.settings}
    values = {"ammonia_percent": percent, "volume_ml": volume, "material": "steel"}
    result = compute(Inputs(values, spreads={}, settings=settings)).result
    assert result["ammonia_ml"] + result["water_ml"] == volume
    assert result["ammonia_ml"] > 0
    assert result["water_ml"] >= 0
    exact = Fraction(volume) * Fraction(1, 2) / Fraction(percent)
    assert abs(Fraction(result["ammonia_ml"]) - exact) <= Fraction(1, 20)
