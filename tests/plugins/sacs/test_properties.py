"""What must hold for every pen: monotone, within both limits, exact, and never too wide."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import floor

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sparewell.plugin import ImpossibleInput, Inputs, Piece, Verdict
from sparewell_sacs.calculator import compute
from sparewell_sacs.drawing import drawing
from sparewell_sacs.fit import envelope, judge
from sparewell_sacs.limits import chord_height_nanometres
from sparewell_sacs.settings import SETTINGS
from sparewell_sacs.sizing import half_size_of, sizing_of

DEFAULTS = {setting.name: setting.default for setting in SETTINGS}

BORES = st.integers(3_000_000, 14_000_000)
BARS = st.integers(100_000, 1_600_000)
NIPPLES = st.integers(2_000_000, 11_000_000)
CLEARANCES = st.integers(0, 800_000)
RULES = st.sampled_from(("twice", "once", "none"))
MATERIALS = st.sampled_from(("latex", "silicone", "pvc", None))

DIMENSIONS = st.fixed_dictionaries(
    {"outside_diameter": st.integers(1_000_000, 14_000_000)},
    optional={
        "inside_diameter": st.integers(500_000, 13_000_000),
        "thickness": st.integers(50_000, 1_500_000),
        "neck_diameter": st.integers(1_000_000, 14_000_000),
        "tip_diameter": st.integers(1_000_000, 14_000_000),
        "length": st.integers(10_000_000, 110_000_000),
    },
)


@st.composite
def pens(draw) -> Inputs:
    """Draw a pen that can be: barrel or guard, with or without a tail, a wall, a try-in."""
    values = {"nipple_diameter": draw(NIPPLES)}
    if draw(st.booleans()):
        values["guard_bore"] = draw(BORES)
    else:
        values["barrel_bore"] = draw(BORES)
        values["bar_rule"] = draw(RULES)
        if draw(st.booleans()):
            values["bar_height"] = draw(BARS)
        if draw(st.booleans()):
            values["barrel_bore_tail"] = draw(BORES)
    if draw(st.booleans()):
        values["clearance"] = draw(CLEARANCES)
    if draw(st.booleans()):
        values["wall"] = draw(st.integers(150_000, 900_000))
    if draw(st.integers(0, 3)) == 0:
        values["try_in"] = Decimal(draw(st.integers(12, 50))) / 2
    if draw(st.booleans()):
        values["barrel_depth"] = draw(st.integers(30_000_000, 120_000_000))
        if draw(st.booleans()):
            values["tenon_length"] = draw(st.integers(2_000_000, 20_000_000))
    inputs = Inputs(values, spreads={}, settings=DEFAULTS)
    try:
        compute(inputs)
    except ImpossibleInput:
        assume(condition=False)
    return inputs


@given(bore=BORES, wider=st.integers(0, 3_000_000), bar=BARS, nipple=NIPPLES, rule=RULES)
@settings(deadline=None)
def test_a_larger_bore_never_gives_a_smaller_size(bore, wider, bar, nipple, rule) -> None:
    """With the bar as measured in place, more bore gives the same size or a larger one."""
    values = {"bar_height": bar, "nipple_diameter": nipple, "bar_rule": rule}
    sizes = [
        half_size_of(Inputs({**values, "barrel_bore": b}, spreads={}, settings=DEFAULTS))
        for b in (bore, bore + wider)
    ]
    assume(sizes[0] is not None)
    assert sizes[1] is not None
    assert sizes[0] <= sizes[1]


@given(
    bore=BORES,
    wider=st.integers(0, 3_000_000),
    width=st.integers(500_000, 6_000_000),
    thickness=BARS,
    nipple=NIPPLES,
    clearance=CLEARANCES,
)
@settings(deadline=None)
def test_a_larger_bore_with_a_bar_as_a_chord(
    bore, wider, width, thickness, nipple, clearance
) -> None:
    """A wider bore also lowers the chord; with one clearance the size never shrinks."""
    values = {
        "bar_width": width,
        "bar_thickness": thickness,
        "nipple_diameter": nipple,
        "clearance": clearance,
    }
    sizes = [
        half_size_of(Inputs({**values, "barrel_bore": b}, spreads={}, settings=DEFAULTS))
        for b in (bore, bore + wider)
    ]
    assume(sizes[0] is not None)
    assert sizes[1] is not None
    assert sizes[0] <= sizes[1]


@given(bore=BORES, narrower=st.integers(0, 2_000_000), bar=BARS, higher=st.integers(0, 500_000))
@settings(deadline=None)
def test_a_smaller_nipple_or_a_higher_bar_never_gives_a_larger_size(
    bore, narrower, bar, higher
) -> None:
    """Less nipple, or more bar at the same clearance, never gives a larger sac."""
    nipple = 6_400_000
    base = {"barrel_bore": bore, "bar_height": bar, "nipple_diameter": nipple, "clearance": 0}
    less = {**base, "nipple_diameter": nipple - narrower, "bar_height": bar + higher}
    sizes = [half_size_of(Inputs(v, spreads={}, settings=DEFAULTS)) for v in (base, less)]
    assume(None not in sizes)
    assert sizes[1] <= sizes[0]


@given(inputs=pens())
@settings(deadline=None)
def test_size_is_within_both_limits_and_the_next_half_is_not(inputs) -> None:
    """Without a try-in, the half size is at most both limits and half a size more is not."""
    sizing = sizing_of(inputs)
    assume(sizing.tried is None)
    smaller = min(sizing.barrel_limit, sizing.nipple_limit)
    assert sizing.half_size <= smaller < sizing.half_size + Fraction(1, 2)
    assert sizing.size <= sizing.half_size < sizing.size + 1


@given(bore=BORES, bar=BARS, nipple=NIPPLES, clearance=CLEARANCES, rule=RULES)
@settings(deadline=None)
def test_limits_are_exact(bore, bar, nipple, clearance, rule) -> None:
    """Limits, size and stretch agree with the rule worked anew in millimetres as fractions."""
    inputs = Inputs(
        {
            "barrel_bore": bore,
            "bar_height": bar,
            "nipple_diameter": nipple,
            "clearance": clearance,
            "bar_rule": rule,
        },
        spreads={},
        settings=DEFAULTS,
    )
    times = {"twice": 2, "once": 1, "none": 0}[rule]
    millimetre = Fraction(1, 1_000_000)
    per_size = Fraction(254, 640)
    barrel = (bore - times * bar - clearance) * millimetre / per_size
    nipple_limit = nipple * millimetre / per_size
    assume(barrel > 0)
    assume(nipple < bore)
    result = compute(inputs).result
    size = floor(min(barrel, nipple_limit))
    assert result["size"] == size
    assert Fraction(result["barrel_limit"]) == round(barrel, 2)
    assert Fraction(result["nipple_limit"]) == round(nipple_limit, 2)
    inside = size * per_size - 2 * Fraction(45, 100)
    nominal = result["stretch_percent"]["nominal"]
    if inside > 0:
        assert Fraction(nominal) == round((nipple * millimetre / inside - 1) * 100, 1)
    else:
        assert nominal is None


@given(
    bore=st.integers(1_000_000, 20_000_000),
    share=st.integers(1, 999),
    thickness=st.integers(1, 2_000_000),
)
@settings(deadline=None)
def test_chord_is_the_exact_height_rounded_up(bore, share, thickness) -> None:
    """The height is the least whole nanometre at which the bar's face clears the circle."""
    width = bore * share // 1000
    assume(width > 0)
    height = chord_height_nanometres(
        bore_nanometres=bore, bar_width_nanometres=width, bar_thickness_nanometres=thickness
    )
    sagitta = height - thickness
    # sagitta s satisfies (bore - 2 s)² <= bore² - width², and s - 1 does not, but for one step of
    # rounding in the root.
    assert (bore - 2 * sagitta) ** 2 <= bore**2 - width**2
    assert (bore - 2 * (sagitta - 1)) ** 2 > bore**2 - width**2 or sagitta <= 1


@given(inputs=pens(), dimensions=DIMENSIONS, material=MATERIALS)
@settings(deadline=None)
def test_nothing_wider_than_the_barrel_is_ever_accepted(inputs, dimensions, material) -> None:
    """A piece wider than the room, or than what was tried in, is refused."""
    sizing = sizing_of(inputs)
    verdict = judge(inputs, Piece("sac", dimensions, {}, material)).verdict
    if sizing.tried is None:
        allowed = sizing.readings.mouth_room_nanometres
        if "tip_diameter" not in dimensions:
            allowed = sizing.readings.room_nanometres
    else:
        allowed = (sizing.tried + Fraction(1, 4)) * 396_875
    if dimensions["outside_diameter"] > allowed:
        assert verdict is Verdict.REFUSED


@given(inputs=pens(), dimensions=DIMENSIONS, material=MATERIALS)
@settings(deadline=None)
def test_the_box_holds_every_piece_that_is_not_refused(inputs, dimensions, material) -> None:
    """The search never hides a piece that the verdict would have accepted."""
    basis = dict.fromkeys(dimensions, "measured")
    verdict = judge(inputs, Piece("sac", dimensions, basis, material)).verdict
    bounds = envelope(inputs).ranges["outside_diameter"]
    if verdict is not Verdict.REFUSED:
        assert bounds.low <= dimensions["outside_diameter"] <= bounds.high


@given(inputs=pens(), spare=st.integers(0, 300_000))
@settings(deadline=None)
def test_the_box_holds_plain_sacs_near_the_answer(inputs, spare) -> None:
    """For sacs of which only the outside is known, close below the room, the same holds."""
    box = envelope(inputs)
    bounds = box.ranges["outside_diameter"]
    for outside in (box.ideal, box.ideal - spare, bounds.high - spare, bounds.low - 1):
        if outside <= 0:
            continue
        verdict = judge(inputs, Piece("sac", {"outside_diameter": outside}, {}, "latex")).verdict
        if verdict is not Verdict.REFUSED:
            assert bounds.low <= outside <= bounds.high


@given(inputs=pens())
@settings(deadline=None)
def test_every_pen_gets_an_answer_a_box_and_a_drawing(inputs) -> None:
    """Whatever can be sized can be searched for and drawn, and its text holds no bare fraction."""
    answer = compute(inputs)
    envelope(inputs)
    drawing(inputs)
    for sentence in (*answer.warnings, *answer.cautions, *answer.result["working"]):
        assert sentence.endswith((".", "?"))
        assert "Fraction" not in sentence
        assert "None" not in sentence


@given(inputs=pens())
@settings(deadline=None)
def test_what_is_advised_fits_the_rules(inputs) -> None:
    """Substitutes are smaller and not overstretched; larger ones go in and keep 5 %."""
    sizing = sizing_of(inputs)
    result = compute(inputs).result
    for entry in result["substitutes"]:
        assert Fraction(entry["size"]) < sizing.recommended
        assert entry["stretch_percent"] <= 35
    for entry in result["also_possible"]:
        assert sizing.recommended < Fraction(entry["size"]) <= sizing.barrel_limit
        assert 5 <= entry["stretch_percent"] <= 35
