"""The sizing of single pens: defaults, options, and what is said beside the answer."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.plugin import parse_length
from sparewell_sacs.calculator import compute
from sparewell_sacs.drawing import drawing
from sparewell_sacs.fit import envelope


def test_the_usual_lever_pen(inputs_of, sample) -> None:
    """Bore 8.0, bar 0.9, nipple 6.4: 15.62 and 16.13 give a 15, or 15½, by the barrel (derived)."""
    result = compute(inputs_of(**sample)).result
    assert result["barrel_limit"] == Decimal("15.62")
    assert result["nipple_limit"] == Decimal("16.13")
    assert (result["size"], result["half_size"]) == (15, Decimal("15.5"))
    assert (result["limited_by"], result["outcome"]) == ("barrel", "agree")
    # A 15½ has 6.1516 outside and 5.2516 inside: sqrt(6.4² + 6.1516² - 5.2516²) = 7.1570 mm.
    assert result["over_nipple_diameter"] == pytest.approx(7_157_000, abs=100)
    assert result["clearance_used"] == 0
    assert result["other_clearance"] == {
        "clearance": parse_length("0.3"),
        "barrel_limit": Decimal("14.87"),
        "size": 14,
        "half_size": Decimal("14.5"),
    }


def test_units_make_no_difference(inputs_of, sample) -> None:
    """The same nipple in inches or sixty-fourths gives the same answer to the last digit."""
    results = [
        compute(inputs_of(**{**sample, "nipple_diameter": text})).result
        for text in ("6.35 mm", "0.25 in", '16/64"', "1/4 in")
    ]
    assert all(result == results[0] for result in results)
    assert results[0]["nipple_limit"] == 16


def test_limits_are_rounded_but_the_size_is_not(inputs_of) -> None:
    """A room one nanometre short of 16/64 in reads 16.00 and is still a 15½ (derived)."""
    result = compute(
        inputs_of(guard_bore=6_350_000 - 1, nipple_diameter="6.34", clearance="0")
    ).result
    assert result["barrel_limit"] == Decimal("16.00")
    result = compute(inputs_of(guard_bore="9", nipple_diameter=6_350_000 - 1, clearance="0")).result
    assert result["nipple_limit"] == Decimal("16.00")
    assert (result["size"], result["half_size"]) == (15, Decimal("15.5"))


def test_equal_limits_count_as_the_nipple(inputs_of) -> None:
    """Where barrel and nipple give the same number, the nipple is named (derived)."""
    result = compute(inputs_of(barrel_bore="7.4", bar_height="0.9", nipple_diameter="5.6")).result
    assert result["limited_by"] == "nipple"


@pytest.mark.parametrize(
    ("bar", "rule", "clearance", "other"),
    [
        ("0.9 mm", "twice", "0", "0.3"),
        ("0.95 mm", "twice", "0", "0.3"),
        ("0.89 mm", "twice", "0.02", "0"),
        ("0.8 mm", "twice", "0.2", "0"),
        ("0.7 mm", "twice", "0.3", "0"),
        ("0.8 mm", "once", "0.1", "0"),
        ("0.6 mm", "once", "0.3", "0"),
        ("0.9 mm", "once", "0", "0.3"),
        ("0.9 mm", "none", "0.3", "0"),
    ],
)
def test_default_clearance_goes_by_the_bar(inputs_of, sample, bar, rule, clearance, other) -> None:
    """What the bar is lower than 0.9 mm, as often as it counts, is clearance, up to 0.3 mm."""
    result = compute(inputs_of(**{**sample, "bar_height": bar, "bar_rule": rule})).result
    assert result["clearance_used"] == parse_length(clearance, zero_allowed=True)
    assert result["other_clearance"]["clearance"] == parse_length(other, zero_allowed=True)


def test_both_numbers_of_the_clearance_are_settings(inputs_of, sample) -> None:
    """With 0.4 mm at most and a generous bar of 0.8 mm, a bar of 0.7 mm leaves 0.2 mm."""
    settings = {"sac.clearance": 400_000, "sac.generous_bar": 800_000}
    changed = inputs_of(changed_settings=settings, **{**sample, "bar_height": "0.7"})
    assert compute(changed).result["clearance_used"] == parse_length("0.2")


def test_a_clearance_asked_for_is_used_and_the_default_is_echoed(inputs_of, sample) -> None:
    """An explicit clearance wins, zero included; what the default would give stands beside it."""
    result = compute(inputs_of(**sample, clearance="0.4")).result
    assert result["barrel_limit"] == Decimal("14.61")
    assert result["other_clearance"]["clearance"] == 0
    assert result["other_clearance"]["half_size"] == Decimal("15.5")


def test_a_bar_not_measured_is_assumed_and_said(inputs_of) -> None:
    """Without a bar height 0.9 mm is used, in the working and in a warning."""
    answer = compute(inputs_of(barrel_bore="8", nipple_diameter="6.4"))
    assert answer.result["bar_height_used"] == parse_length("0.9")
    assert any("0.9 mm is assumed" in warning for warning in answer.warnings)
    assert any("none was measured" in step for step in answer.result["working"])


def test_a_flat_bar_stands_off_by_its_sagitta(inputs_of) -> None:
    """A strip 3 mm wide, 0.5 mm thick, in a bore of 8 mm stands 0.792 mm off (derived)."""
    # Derived here: 4 - sqrt(16 - 2.25) = 0.2919 mm of sagitta, and 0.5 mm of strip.
    result = compute(
        inputs_of(barrel_bore="8", bar_thickness="0.5", bar_width="3", nipple_diameter="6.4")
    ).result
    assert result["bar_height_used"] == pytest.approx(791_900, abs=50)


def test_a_height_measured_in_place_wins_over_the_chord(inputs_of, sample) -> None:
    """With height and strip both given, the height is used and the strip is named as unused."""
    answer = compute(inputs_of(**sample, bar_thickness="0.5", bar_width="3"))
    assert answer.result["bar_height_used"] == parse_length("0.9")
    assert any("wins over" in warning for warning in answer.warnings)


@pytest.mark.parametrize(("wire", "used"), [("1.0", "1.0"), ("0.5", "0.9")])
def test_the_highest_thing_counts(inputs_of, sample, wire, used) -> None:
    """A lever ring's wire counts where it stands higher than the bar, else the bar does."""
    result = compute(inputs_of(**sample, ring_wire=wire)).result
    assert result["bar_height_used"] == parse_length(used)


def test_a_guard_has_no_bar(inputs_of) -> None:
    """Inside a guard no bar comes off, and 0.3 mm is left: common practice, no source."""
    answer = compute(inputs_of(guard_bore="7", nipple_diameter="5.6", bar_height="0.9"))
    assert answer.result["bar_height_used"] is None
    assert answer.result["other_bar_rule"] is None
    assert answer.result["barrel_limit"] == Decimal("16.88")
    assert any("bar_height is not used" in warning for warning in answer.warnings)


def test_no_bar_in_the_way(inputs_of) -> None:
    """With bar_rule none nothing comes off for a bar, and 0.3 mm is left."""
    result = compute(inputs_of(barrel_bore="8", nipple_diameter="6.4", bar_rule="none")).result
    assert result["barrel_limit"] == Decimal("19.40")
    assert result["clearance_used"] == parse_length("0.3")


def test_the_narrow_tail_governs_and_a_tapered_sac_is_offered(inputs_of) -> None:
    """A tail 1.2 mm narrower rules a straight sac; a tapered one is listed with its tip."""
    result = compute(
        inputs_of(
            barrel_bore="9",
            barrel_bore_tail="7.8",
            bar_height="0.9",
            nipple_diameter="6.4",
        )
    ).result
    assert result["barrel_limit"] == Decimal("15.12")
    tapered = [entry for entry in result["alternatives"] if entry["do"] == "tapered_sac"]
    assert [entry["size"] for entry in tapered] == [Decimal(16)]
    assert "6 mm outside at its tip" in tapered[0]["why"]


def test_a_tail_as_wide_as_the_mouth_changes_nothing(inputs_of, sample) -> None:
    """A tail no narrower than the mouth leaves the limit and offers no tapered sac."""
    result = compute(inputs_of(**sample, barrel_bore_tail="8.4")).result
    assert result["barrel_limit"] == Decimal("15.62")
    assert result["alternatives"] == []


def test_a_sac_that_does_not_enter_over_the_nipple(inputs_of) -> None:
    """A 16 over 6.4 mm measures 7.18 mm and does not go into 7 mm (derived)."""
    answer = compute(inputs_of(barrel_bore="7", nipple_diameter="6.4", bar_rule="none"))
    assert answer.result["limited_by"] == "over_nipple"
    assert (answer.result["size"], answer.result["outcome"]) == (16, "agree")
    assert any(
        "does not go in: over the nipple it measures 7.18" in warning for warning in answer.warnings
    )
    assert "thinner_wall" in {entry["do"] for entry in answer.result["alternatives"]}


def test_over_the_nipple_equal_to_the_bore_does_not_enter(inputs_of) -> None:
    """Exactly as wide as the bore is too wide; a nanometre less goes in."""
    values = {"nipple_diameter": "6.1", "bar_rule": "none"}
    over = compute(inputs_of(barrel_bore="6.9", **values)).result["over_nipple_diameter"]
    tight = compute(inputs_of(barrel_bore=over, **values)).result
    free = compute(inputs_of(barrel_bore=over + 1, **values)).result
    assert tight["limited_by"] == "over_nipple"
    assert free["limited_by"] == "nipple"


def test_a_doubtful_barrel_comes_before_the_sac_over_the_nipple(inputs_of) -> None:
    """Where the barrel is in doubt, over_nipple is not named as the limit."""
    result = compute(inputs_of(barrel_bore="7", bar_height="0.9", nipple_diameter="6.5")).result
    assert (result["outcome"], result["limited_by"]) == ("check_barrel", "barrel")


def test_barrel_limits_when_two_sizes_apart_and_not_overstretched(inputs_of) -> None:
    """A nipple two sizes above the barrel, at a stretch under 35 %, is limited by the barrel."""
    result = compute(
        inputs_of(barrel_bore="11.2", bar_height="0.9", nipple_diameter="10.2", wall="0.35")
    ).result
    assert result["outcome"] == "barrel_limits"
    assert "lower_bar" in {entry["do"] for entry in result["alternatives"]}


def test_overstretch_alone_asks_after_the_barrel(inputs_of) -> None:
    """Two sizes apart but stretched above 35 %, the barrel is in doubt (common practice)."""
    result = compute(inputs_of(barrel_bore="7.4", bar_height="0.9", nipple_diameter="6.36")).result
    assert result["stretch_percent"]["nominal"] > 35
    assert result["outcome"] == "check_barrel"


def test_a_try_in_overrides_the_arithmetic(inputs_of, sample) -> None:
    """The size that went in is the answer, and a warning says what the arithmetic said."""
    answer = compute(inputs_of(**sample, try_in=Decimal("14.5")))
    assert (answer.result["size"], answer.result["half_size"]) == (14, Decimal("14.5"))
    assert answer.result["limited_by"] == "try_in"
    assert answer.result["barrel_limit"] == Decimal("15.62")
    assert any("overrides the arithmetic" in w and "15½" in w for w in answer.warnings)
    assert answer.result["also_possible"] == []
    assert answer.result["sensitivity"] == []


def test_a_try_in_stands_in_for_the_barrel_in_the_outcome(inputs_of) -> None:
    """A 16 that goes in settles a barrel that the arithmetic would have doubted."""
    pen = {"barrel_bore": "7.4", "bar_height": "1.2", "nipple_diameter": "6.4"}
    assert compute(inputs_of(**pen)).result["outcome"] == "check_barrel"
    tried = compute(inputs_of(**pen, try_in=Decimal(16))).result
    assert tried["outcome"] == "agree"


def test_the_wall_given_is_used(inputs_of, sample) -> None:
    """A wall without spread gives one stretch; with its spread it gives a band about it."""
    sharp = compute(inputs_of(**sample, wall="0.4")).result["stretch_percent"]
    assert sharp["min"] == sharp["nominal"] == sharp["max"] == Decimal("24.2")
    band = compute(inputs_of(**sample, wall="0.4", spreads={"wall": "0.05"})).result
    assert band["stretch_percent"]["min"] < Decimal("24.2") < band["stretch_percent"]["max"]


def test_cut_length_waits_for_the_tenon(inputs_of, sample) -> None:
    """Without the tenon there is no cut length, and the volume is marked as an upper figure."""
    result = compute(inputs_of(**sample)).result
    assert result["cut_length"] is None
    assert result["capacity_ml"] == Decimal("1.16")
    assert any("upper figure" in step for step in result["working"])


def test_cut_length_is_whole_millimetres_rounded_down(inputs_of, sample) -> None:
    """62 - 12.3 of tenon - 4 at the end leave 45.7 mm, cut at 45 (derived)."""
    result = compute(inputs_of(**sample, tenon_length="12.3")).result
    assert result["cut_length"] == parse_length("45")


def test_the_gap_in_a_guard_is_smaller(inputs_of) -> None:
    """In a guard 1 mm is left at the closed end, not 4: common practice, no source."""
    result = compute(
        inputs_of(guard_bore="7", nipple_diameter="5.6", barrel_depth="50", tenon_length="5")
    ).result
    assert result["cut_length"] == parse_length("44")


def test_a_shallow_bore_reading_warns(inputs_of, sample) -> None:
    """A bore taken less than 10 mm deep warns of the counterbore; at 10 mm it does not."""
    shallow = compute(inputs_of(**sample, barrel_bore_at="9.9")).warnings
    deep = compute(inputs_of(**sample, barrel_bore_at="10")).warnings
    assert any("counterbored" in warning for warning in shallow)
    assert not any("counterbored" in warning for warning in deep)


def test_the_old_sac_is_noted_and_not_trusted(inputs_of, sample) -> None:
    """What the previous repairer fitted is echoed, with the advice not to rely on it."""
    answer = compute(inputs_of(**sample, old_sac="a 17"))
    assert any("a 17" in w and "never trust" in w for w in answer.warnings)
    assert answer.result == compute(inputs_of(**sample)).result


@pytest.mark.parametrize(
    ("nipple", "bore", "words"),
    [("3.0", "5", "sacs start at 8"), ("10.0", "13.5", "sacs end at 24")],
)
def test_nothing_sold_in_the_range(inputs_of, nipple, bore, words) -> None:
    """Below 8 and above 24 nothing is sold, and the answer says so: common practice, no source."""
    answer = compute(inputs_of(barrel_bore=bore, bar_height="0.9", nipple_diameter=nipple))
    assert any(words in warning for warning in answer.warnings)


def test_large_latex_is_too_soft(inputs_of) -> None:
    """From 22 up latex is said to be soft; silicone is not: public page on sacs."""
    pen = {"barrel_bore": "12", "bar_height": "0.9", "nipple_diameter": "9"}
    latex = compute(inputs_of(**pen)).warnings
    silicone = compute(inputs_of(**pen, material="silicone")).warnings
    assert any("too soft" in warning for warning in latex)
    assert not any("too soft" in warning for warning in silicone)


def test_silicone_in_a_guard_is_warned_of(inputs_of) -> None:
    """Silicone inside a guard is said to be refused unless overridden."""
    answer = compute(inputs_of(guard_bore="7", nipple_diameter="5.6", material="silicone"))
    assert any("refused unless" in warning for warning in answer.warnings)


@pytest.mark.parametrize(
    ("material", "words"),
    [
        ("latex", ("allergy", "sulphur")),
        ("silicone", ("does not bond", "acetic acid")),
        ("pvc", ("celluloid and polystyrene",)),
    ],
)
def test_cautions_go_with_the_material(inputs_of, sample, material, words) -> None:
    """Each material has its own cautions, beside the blades, the alcohol and the safety sheets."""
    cautions = " ".join(compute(inputs_of(**sample, material=material)).cautions)
    for word in (*words, "sharp", "flammable", "safety sheets"):
        assert word in cautions
    others = {"latex": "allergy", "silicone": "acetic", "pvc": "plasticiser"}
    for other, word in others.items():
        assert (word in cautions) == (other == material)


def test_material_defaults_to_latex_and_is_said(inputs_of, sample) -> None:
    """Without a material latex is assumed, and the working says so."""
    result = compute(inputs_of(**sample)).result
    assert result["material"] == "latex"
    assert any("latex, assumed" in step for step in result["working"])


def test_settings_change_the_answer(inputs_of, sample) -> None:
    """A workshop that takes the bar off once gets the larger sac, and the setting is noted."""
    inputs = inputs_of(**sample, changed_settings={"sac.bar_rule": "once"})
    assert compute(inputs).result["size"] == 16
    assert inputs.settings_read["sac.bar_rule"] == "once"
    asked = inputs_of(**sample, bar_rule="twice", changed_settings={"sac.bar_rule": "once"})
    assert compute(asked).result["size"] == 15


def test_working_shows_every_number(inputs_of, sample) -> None:
    """The working holds the bore, twice the bar, the room, both limits and the other rule."""
    working = " ".join(compute(inputs_of(**sample)).result["working"])
    for words in ("8 mm - 2 x 0.9 mm - 0 mm = 6.2 mm", "15.62", "16.13/64 in", "17.89", "0.252 in"):
        assert words in working


@pytest.mark.parametrize(
    ("pen", "recommended"),
    [
        # Derived here: 26.7 % on a 15, and the barrel takes 15.62.
        ({"barrel_bore": "8", "bar_height": "0.9", "nipple_diameter": "6.4"}, "15.5"),
        # 20.7 % on a 15, the nipple's own number is 15.37, and the barrel takes 17.16.
        ({"barrel_bore": "0.335 in", "bar_height": "0.7", "nipple_diameter": "6.1"}, "15.5"),
        # 17.4 % on a 16 is good.
        ({"barrel_bore": "9", "bar_height": "0.9", "nipple_diameter": "6.4"}, "16"),
        # 26.7 % on a 15, and the barrel takes no more than 15.37.
        ({"barrel_bore": "7.9", "bar_height": "0.9", "nipple_diameter": "6.4"}, "15"),
    ],
)
def test_what_is_preferred_in_words_is_recommended_in_figures(inputs_of, pen, recommended) -> None:
    """The size, or the half above it where the size stretches too far and the barrel takes it."""
    answer = compute(inputs_of(**pen))
    assert answer.result["recommended"] == Decimal(recommended)
    size = f"{recommended[:2]}½" if recommended.endswith(".5") else recommended
    said = " ".join(answer.warnings)
    assert (f"Prefer the {size}" in said) is recommended.endswith(".5")
    assert f"Recommended: {size}," in " ".join(answer.result["working"])
    assert f"sac no. {size}" in envelope(inputs_of(**pen)).to_buy[0].ask_for
    assert f"Sac {size} drawn" in drawing(inputs_of(**pen))


def test_what_was_tried_in_is_recommended(inputs_of, sample) -> None:
    """A 16½ that went in is what to take, whatever the readings say."""
    result = compute(inputs_of(**sample, try_in=Decimal("16.5"))).result
    assert result["recommended"] == Decimal("16.5")
