"""Every answer moves the right way: less room or less nipple never gives a larger sac."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sparewell.plugin import ImpossibleInput, Inputs
from sparewell_sacs.settings import SETTINGS
from sparewell_sacs.sizing import Sizing, sizing_of

DEFAULTS = {setting.name: setting.default for setting in SETTINGS}

BORES = st.integers(4_000_000, 14_000_000)
HEIGHTS = st.integers(100_000, 1_600_000)
NIPPLES = st.integers(2_500_000, 11_000_000)
RULES = st.sampled_from(("twice", "once", "none"))
STEPS = st.integers(0, 1_500_000)
BAR_IN_PLACE = st.fixed_dictionaries({"bar_height": HEIGHTS})
BAR_AS_STRIP = st.fixed_dictionaries(
    {"bar_thickness": HEIGHTS, "bar_width": st.integers(500_000, 6_000_000)}
)
PENS = st.builds(
    lambda pen, bar: {**pen, **bar},
    st.fixed_dictionaries(
        {"barrel_bore": BORES, "nipple_diameter": NIPPLES, "bar_rule": RULES},
        optional={
            "barrel_bore_tail": BORES,
            "ring_wire": HEIGHTS,
            "wall": st.integers(150_000, 900_000),
            "clearance": st.integers(0, 800_000),
        },
    ),
    BAR_IN_PLACE | BAR_AS_STRIP,
)


def sizing_or_none(values) -> Sizing | None:
    """Return the sizing, or None for readings that cannot be true."""
    try:
        return sizing_of(Inputs(values, spreads={}, settings=DEFAULTS))
    except ImpossibleInput:
        return None


def assert_never_larger(more, less) -> None:
    """With less of one reading, neither the limit nor any size is more."""
    first, second = sizing_or_none(more), sizing_or_none(less)
    assume(first is not None)
    assume(second is not None)
    assert second.barrel_limit <= first.barrel_limit
    assert second.nipple_limit <= first.nipple_limit
    assert second.half_size <= first.half_size
    assert second.recommended <= first.recommended


@given(pen=PENS, name=st.sampled_from(("barrel_bore", "barrel_bore_tail")), step=STEPS)
@settings(deadline=None)
def test_a_narrower_bore_never_gives_a_larger_sac(pen, name, step) -> None:
    """At the mouth or the tail, a narrower bore gives the same sac or a smaller one."""
    assume(name in pen)
    assume(pen[name] > step)
    assert_never_larger(pen, {**pen, name: pen[name] - step})


@given(
    pen=PENS,
    name=st.sampled_from(("bar_height", "bar_thickness", "bar_width", "ring_wire", "clearance")),
    step=STEPS,
)
@settings(deadline=None)
def test_more_in_the_way_never_gives_a_larger_sac(pen, name, step) -> None:
    """A higher, thicker or wider bar, a thicker ring, more clearance: never a larger sac."""
    assume(name in pen)
    assert_never_larger(pen, {**pen, name: pen[name] + step})


@given(pen=PENS, step=STEPS)
@settings(deadline=None)
def test_a_smaller_nipple_never_gives_a_larger_sac(pen, step) -> None:
    """Less nipple gives the same sac or a smaller one."""
    nipple = pen["nipple_diameter"]
    assume(nipple > step)
    assert_never_larger(pen, {**pen, "nipple_diameter": nipple - step})


@given(pen=PENS, oftener=st.sampled_from((("none", "once"), ("once", "twice"))))
@settings(deadline=None)
def test_a_bar_that_counts_oftener_never_gives_a_larger_sac(pen, oftener) -> None:
    """Counted once instead of not at all, or twice instead of once: never a larger sac."""
    assert_never_larger({**pen, "bar_rule": oftener[0]}, {**pen, "bar_rule": oftener[1]})


@given(pen=PENS, step=st.integers(1, 50_000))
@settings(deadline=None)
def test_no_default_jumps(pen, step) -> None:
    """A bar a little higher costs at most as much as it stands higher, as often as it counts."""
    pen = {name: value for name, value in pen.items() if name not in {"clearance", "ring_wire"}}
    assume("bar_height" in pen)
    lower = sizing_or_none(pen)
    higher = sizing_or_none({**pen, "bar_height": pen["bar_height"] + step})
    assume(lower is not None)
    assume(higher is not None)
    most = Fraction(lower.readings.bar.times * step, 396_875)
    assert 0 <= lower.barrel_limit - higher.barrel_limit <= most


def test_one_hundredth_of_a_bar_never_gains_a_size() -> None:
    """In a bore of 8.2 mm a bar of 0.89 mm leaves no less than one of 0.90 mm."""
    pen = {"barrel_bore": 8_200_000, "nipple_diameter": 7_000_000}
    limits = [
        sizing_or_none({**pen, "bar_height": height}).barrel_limit for height in (890_000, 900_000)
    ]
    assert limits[1] <= limits[0] <= limits[1] + Fraction(1, 10)
