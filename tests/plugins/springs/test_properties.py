"""What must hold for every spring: exact, monotone, and inside its own band."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sparewell.plugin import Inputs
from sparewell_springs import mechanics
from sparewell_springs.band import band_of, rate_of
from sparewell_springs.calculator import compute
from sparewell_springs.drawing import drawing
from sparewell_springs.ends import ENDS
from sparewell_springs.fit import envelope
from sparewell_springs.materials import WIRES
from sparewell_springs.readings import spring_of
from sparewell_springs.settings import SPRING_SETTINGS
from sparewell_springs.wording import significant

DEFAULTS = {setting.name: setting.default for setting in SPRING_SETTINGS}


@st.composite
def springs(draw) -> Inputs:
    """Draw a spring that can be, with or without spreads, lengths, rod and bore."""
    wire = draw(st.integers(50_000, 2_000_000))
    values = {
        "wire_diameter": wire,
        "mean_diameter": wire * draw(st.integers(1_010, 20_000)) // 1_000,
        "total_coils": Decimal(draw(st.integers(9, 120))) / 4,
    }
    if draw(st.booleans()):
        mean = values.pop("mean_diameter")
        values["outside_diameter"] = mean + wire
    if draw(st.booleans()):
        values["ends"] = draw(st.sampled_from(tuple(ENDS)))
    if draw(st.booleans()):
        values["material"] = draw(st.sampled_from(tuple(WIRES)))
    if draw(st.booleans()):
        least = int(wire * (values["total_coils"] + 1)) + 1
        free = least + draw(st.integers(0, 60_000_000))
        values["free_length"] = free
        values["working_length"] = draw(st.integers(1, free))
    if draw(st.booleans()):
        values["rod_diameter"] = draw(st.integers(1, 5_000_000))
    if draw(st.booleans()):
        values["bore_diameter"] = draw(st.integers(5_000_001, 20_000_000))
    spreads = {}
    for name in ("wire_diameter", "mean_diameter", "outside_diameter"):
        if name in values and draw(st.booleans()):
            spreads[name] = draw(st.integers(0, 200_000))
    return Inputs(values, spreads=spreads, settings=DEFAULTS)


@given(inputs=springs())
@settings(deadline=None)
def test_every_spring_gets_an_answer_a_box_and_a_drawing(inputs) -> None:
    """Whatever can be is answered, in sentences without bare fractions."""
    answer = compute(inputs)
    envelope(inputs)
    drawing(inputs)
    for sentence in (*answer.warnings, *answer.cautions, *answer.result["working"]):
        assert sentence.endswith((".", "?"))
        assert "Fraction" not in sentence
        assert "None" not in sentence
        assert "E+" not in sentence


@given(inputs=springs())
@settings(deadline=None)
def test_rate_is_the_exact_formula_and_lies_in_its_band(inputs) -> None:
    """G d^4 / (8 D^3 Na) in rationals, printed to six digits, between least and most."""
    spring = spring_of(inputs)
    modulus = spring.shear_modulus_gpa * 1_000
    exact = modulus * spring.wire**4 / (8 * spring.mean**3 * spring.active_coils)
    assert rate_of(spring) == exact
    assert compute(inputs).result["rate_n_per_mm"] == significant(exact)
    band = band_of(inputs, spring)
    assert band.least <= exact
    assert band.most is None or exact <= band.most


@given(inputs=springs(), thicker=st.integers(1, 5_000))
@settings(deadline=None)
def test_rate_grows_with_the_wire_and_falls_with_the_coils(inputs, thicker) -> None:
    """A thicker wire is stiffer; more coils are softer; the index falls as the wire grows."""
    assume("free_length" not in inputs)
    spring = spring_of(inputs)
    assume(spring.mean_nanometres > spring.wire_nanometres + 2 * thicker)
    thick = spring_of(inputs.changed(wire_diameter=spring.wire_nanometres + thicker))
    more = spring_of(inputs.changed(total_coils=inputs["total_coils"] + 1))
    assert rate_of(more) < rate_of(spring)
    assume(thick.shear_modulus_gpa == spring.shear_modulus_gpa)
    assert rate_of(thick) > rate_of(spring)
    assert thick.index < spring.index


@given(index=st.fractions(Fraction(101, 100), 50))
@settings(deadline=None)
def test_factors_fall_with_the_index(index) -> None:
    """Both curvature factors are above one and fall as the index grows."""
    larger = index + Fraction(1, 10)
    for factor in (mechanics.wahl_factor, mechanics.curvature_factor):
        assert factor(index) > factor(larger) > 1


@given(
    force=st.fractions(Fraction(1, 100), 100),
    wire=st.fractions(Fraction(1, 10), 2),
    index=st.fractions(2, 20),
)
@settings(deadline=None)
def test_force_and_stress_undo_each_other(force, wire, index) -> None:
    """The force at the stress of a force is that force, exactly."""
    mean, factor = wire * index, mechanics.wahl_factor(index)
    stress = mechanics.shear_stress(force=force, wire=wire, mean=mean, factor=factor)
    back = mechanics.force_at_stress(stress=stress, wire=wire, mean=mean, factor=factor)
    assert back == force


@given(value=st.fractions(Fraction(1, 10**9), 10**9))
@settings(deadline=None)
def test_significant_digits_are_within_half_of_the_last(value) -> None:
    """Six digits are kept: the error is at most half a unit of the sixth."""
    shown = Fraction(significant(value))
    assert abs(shown - value) <= value * Fraction(5, 10**6)
    assert len(significant(value).as_tuple().digits) <= 7
