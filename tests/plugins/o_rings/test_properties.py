"""What holds for every gland and every ring."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from sparewell_o_rings.assess import PI, assess
from sparewell_o_rings.glands import Duty, Gland, GlandKind, Span
from sparewell_o_rings.section import SectionModel, lost_share
from sparewell_o_rings.sizes import Ring, Standard, to_hundredths
from sparewell_o_rings.tolerances import PRECISE, inside_tolerance_class_b

MODELS = st.sampled_from(list(SectionModel))
SHARES = st.fractions(min_value=-1, max_value=1, max_denominator=1000)
# Points: where two branches begin at once, the published models jump by less than this.
CLOSE = Decimal("0.0001")


def gland(kind: GlandKind, seat: Span, facing: Span, width: Span) -> Gland:
    """Return a gland with these spans."""
    return Gland(kind, Duty.STATIC, True, seat, facing, width, 0, ())  # noqa: FBT003 - the duty is given


def ring(inside: int, section: int, inside_off: int = 0, section_off: int = 0) -> Ring:
    """Return a ring of no standard."""
    return Ring(Standard.GIVEN, "one", inside, section, inside_off, section_off)


@st.composite
def cases(draw) -> tuple[Gland, Ring]:
    """Return a gland and a ring near it, both with tolerances."""
    kind = draw(st.sampled_from(list(GlandKind)))
    inside = draw(st.integers(700_000, 12_000_000))
    section = draw(st.integers(600_000, 2_000_000))
    seat = inside + inside * draw(st.integers(-30, 120)) // 1000
    gap = section * draw(st.integers(700, 1000)) // 1000
    facing = gap if kind is GlandKind.FACE else seat + 2 * gap
    off = st.integers(0, 60_000)
    return (
        gland(
            kind,
            Span.around(seat, draw(off)),
            Span.around(facing, draw(off)),
            Span.around(3 * section // 2, draw(off)),
        ),
        ring(inside, section, draw(st.integers(0, 130_000)), draw(st.integers(0, 80_000))),
    )


def inside_of(span: Span, share: Fraction) -> int:
    """Return a length inside its span."""
    return span.nominal + int((span.most - span.nominal) * share)


@given(cases(), st.tuples(SHARES, SHARES, SHARES, SHARES, SHARES), MODELS)
def test_no_combination_of_tolerances_is_outside_the_extremes(case, shares, model) -> None:
    """Any gland and any ring within their tolerances lie between the extremes."""
    where, which = case
    bounds = assess(where, which, model)
    inside = Span.around(which.inside_nanometres, which.inside_tolerance_nanometres)
    section = Span.around(which.section_nanometres, which.section_tolerance_nanometres)
    seat = inside_of(where.resting, shares[0])
    facing = inside_of(where.facing, shares[1])
    width = inside_of(where.width, shares[2])
    one = assess(
        gland(where.kind, Span.around(seat, 0), Span.around(facing, 0), Span.around(width, 0)),
        ring(inside_of(inside, shares[3]), inside_of(section, shares[4])),
        model,
    )
    for name in ("stretch", "squeeze", "fill"):
        figure, extremes = getattr(one, name).nominal, getattr(bounds, name)
        assert extremes.least - CLOSE <= figure <= extremes.most + CLOSE, name


@given(cases(), MODELS)
def test_the_nominal_lies_between_the_extremes(case, model) -> None:
    """Least, nominal and most are in order, for every figure."""
    found = assess(*case, model)
    for percent in (found.stretch, found.squeeze, found.fill):
        assert percent.least - CLOSE <= percent.nominal <= percent.most + CLOSE


@given(cases(), MODELS, st.integers(1, 50_000))
def test_a_thicker_ring_is_squeezed_more(case, model, more) -> None:
    """Squeeze and fill grow with the section, as long as nothing else changes."""
    where, which = case
    thin = assess(where, ring(which.inside_nanometres, which.section_nanometres), model)
    thick = assess(where, ring(which.inside_nanometres, which.section_nanometres + more), model)
    assert thick.squeeze.nominal > thin.squeeze.nominal
    assert thick.fill.nominal > thin.fill.nominal


@given(cases(), MODELS, st.integers(1, 100_000))
def test_wider_tolerances_never_narrow_the_extremes(case, model, more) -> None:
    """A looser ring has extremes at least as far apart."""
    where, which = case
    narrow = assess(where, which, model)
    wide = assess(
        where,
        ring(
            which.inside_nanometres,
            which.section_nanometres,
            which.inside_tolerance_nanometres + more,
            which.section_tolerance_nanometres + more,
        ),
        model,
    )
    for name in ("stretch", "squeeze", "fill"):
        inner, outer = getattr(narrow, name), getattr(wide, name)
        assert outer.least <= inner.least + CLOSE
        assert outer.most >= inner.most - CLOSE


@given(cases())
def test_unthinned_figures_are_exact(case) -> None:
    """Without thinning, squeeze and fill are the plain fractions to 20 digits."""
    where, which = case
    found = assess(where, which, SectionModel.NONE)
    gap = Fraction(where.twice_gap_span.nominal, 2)
    section = Fraction(which.section_nanometres)
    fill = Fraction(PI) / 4 * section**2 / (where.width.nominal * gap)
    assert abs(Fraction(found.squeeze.nominal) - 100 * (1 - gap / section)) < Fraction(1, 10**20)
    assert abs(Fraction(found.fill.nominal) - 100 * fill) < Fraction(1, 10**20)


@given(
    st.sampled_from([SectionModel.AS4716, SectionModel.HANDBOOK, SectionModel.CONSTANT_VOLUME]),
    st.integers(1, 2500),
    st.integers(40, 3000),
)
def test_a_stretched_section_loses_something_and_never_everything(model, stretch, ratio) -> None:
    """Up to 25 % of stretch, some of the section is lost and at most an eighth of it."""
    with localcontext(PRECISE):
        lost = lost_share(model, Decimal(stretch) / 10_000, Decimal(ratio) / 100)
    assert 0 <= lost < Decimal("0.125")


@given(st.integers(1, 999_000_000), st.integers(0, 1_000_000))
def test_class_b_never_shrinks_with_the_diameter(inside, more) -> None:
    """A larger ring has at least the tolerance of a smaller one, in whole hundredths."""
    tolerance = inside_tolerance_class_b(inside)
    assert tolerance % 10_000 == 0
    assert tolerance <= inside_tolerance_class_b(inside + more)


@given(st.integers(0, 10**9))
def test_hundredths_round_half_up(nanometres) -> None:
    """A length is within half a hundredth of its printed form, and a half goes up."""
    printed = to_hundredths(nanometres) * 10_000
    assert -5_000 < printed - nanometres <= 5_000


def squeeze_of(which: Ring, seat: Span, model: SectionModel) -> tuple[Decimal, Decimal, Decimal]:
    """Return nominal, least and most squeeze in a face groove 1.6 mm deep."""
    groove = gland(GlandKind.FACE, seat, Span.around(1_600_000, 0), Span.around(3_000_000, 0))
    found = assess(groove, which, model).squeeze
    return found.nominal, found.least, found.most


def test_the_ratio_at_which_small_rings_end_is_looked_at() -> None:
    """Just above 2.95 sections a ring is thinned more than the smallest ring of its tolerance."""
    seat = Span.around(6_200_000, 0)
    _, least, _ = squeeze_of(ring(5_900_000, 2_000_000, 15_000), seat, SectionModel.AS4716)
    above, _, _ = squeeze_of(ring(5_900_001, 2_000_000), seat, SectionModel.AS4716)
    smallest, _, _ = squeeze_of(ring(5_885_000, 2_000_000), seat, SectionModel.AS4716)
    assert above < smallest
    assert least == above


def test_the_stretch_at_which_the_handbook_jumps_is_looked_at() -> None:
    """Just above 3 % the handbook thins less than at any stretch a little below it."""
    of = ring(10_000_000, 2_000_000)
    _, _, most = squeeze_of(of, Span.around(10_300_000, 5_000), SectionModel.HANDBOOK)
    above, _, _ = squeeze_of(of, Span.around(10_300_001, 0), SectionModel.HANDBOOK)
    lowest, _, _ = squeeze_of(of, Span.around(10_295_000, 0), SectionModel.HANDBOOK)
    assert above > lowest
    assert most == above
