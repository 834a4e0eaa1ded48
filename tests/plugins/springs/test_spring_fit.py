"""The verdict on springs in hand: like for like first, over the rod, in the bore, not solid."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewell.plugin import Piece, Verdict, parse_length
from sparewell_springs.fit import envelope, judge

PLACE = {"rod_diameter": "3.6", "bore_diameter": "5.5", "working_length": "9"}


def piece(material: str | None = "steel", **dimensions: str) -> Piece:
    """Return a measured lot of springs."""
    return Piece(
        kind="spring",
        dimensions={name: parse_length(text) for name, text in dimensions.items()},
        basis=dict.fromkeys(dimensions, "measured"),
        material=material,
    )


def spring(
    outside: str = "5", wire: str = "0.5", length: str = "16", material: str | None = "steel"
) -> Piece:
    """Return a spring like the old one but for what is said."""
    return piece(material, outside_diameter=outside, wire_diameter=wire, length=length)


def test_the_like_fits_and_comes_first(spring_inputs, pen_spring) -> None:
    """The same spring fits with preference 0; another that presses as hard comes after it."""
    wanted = spring_inputs(**pen_spring, **PLACE)
    like = judge(wanted, spring())
    assert (like.verdict, like.preference) == (Verdict.FITS, 0)
    assert like.why.startswith("like for like")
    assert like.margins["press_percent"] == Decimal("0.0")
    other = judge(wanted, spring(outside="5.25", wire="0.52", length="16"))
    assert other.verdict is Verdict.FITS
    assert other.preference > 0


def test_the_like_within_reading_error_fits_though_it_presses_harder(
    spring_inputs, pen_spring
) -> None:
    """1.04^4 x (4.5 / 4.48)^3 is 18.6 % harder and still the like; the force is said."""
    judgement = judge(spring_inputs(**pen_spring), spring(wire="0.52"))
    assert judgement.verdict is Verdict.FITS
    assert judgement.margins["press_percent"] == Decimal("18.6")
    assert "18.6 % harder" in judgement.why


@pytest.mark.parametrize(
    ("lot", "verdict", "word"),
    [
        (spring(outside="5.5"), Verdict.REFUSED, "does not go into the bore"),
        (spring(outside="5.35", wire="0.53"), Verdict.TIGHT, "close in the bore"),
        (spring(outside="4.6"), Verdict.REFUSED, "does not go over the rod"),
        (spring(outside="4.75", wire="0.48"), Verdict.TIGHT, "close on the rod"),
        (spring(length="8.9"), Verdict.REFUSED, "too short to reach"),
        (spring(length="9"), Verdict.REFUSED, "too short to reach"),
        (spring(wire="0.6"), Verdict.REFUSED, "harder"),
        (spring(wire="0.44"), Verdict.REFUSED, "less"),
        (spring(wire="0.53"), Verdict.TIGHT, "harder"),
        (spring(wire="0.47"), Verdict.LOOSE, "less"),
    ],
)
def test_every_way_of_not_fitting(spring_inputs, pen_spring, lot, verdict, word) -> None:
    """Too wide, too narrow, too short, too strong, too weak: refused, or tight or loose."""
    judgement = judge(spring_inputs(**pen_spring, **PLACE), lot)
    assert judgement.verdict is verdict
    assert word in judgement.why


def test_a_spring_solid_before_the_working_length_is_refused(spring_inputs, pen_spring) -> None:
    """Ten coils of 0.55 mm are solid at 5.5 mm, and the pen presses to 5.4: count its coils."""
    wanted = spring_inputs(**pen_spring, working_length="5.4")
    thick = judge(wanted, spring(outside="5.4", wire="0.55"))
    assert thick.verdict is Verdict.REFUSED
    assert "solid at 5.5 mm" in thick.why
    assert thick.margins["solid"] == -100_000
    assert judge(wanted, spring()).verdict is Verdict.FITS


def test_force_is_compared_where_it_works(spring_inputs, pen_spring) -> None:
    """17.4 free presses 8.4 / 7 as hard at 9 mm as 16 free does, though the rates are equal."""
    judgement = judge(spring_inputs(**pen_spring, working_length="9"), spring(length="17.4"))
    assert judgement.margins["press_percent"] == Decimal("20.0")
    by_rate = judge(spring_inputs(**pen_spring), spring(length="17.4"))
    assert by_rate.margins["press_percent"] == Decimal("0.0")


def test_bronze_for_steel_is_half_as_stiff(spring_inputs, pen_spring) -> None:
    """41.4 against 82.7 GPa presses half as hard and is refused; stainless is 16.6 % less."""
    wanted = spring_inputs(**pen_spring)
    bronze = judge(wanted, spring(material="phosphor bronze"))
    assert bronze.verdict is Verdict.REFUSED
    assert bronze.margins["press_percent"] == Decimal("-49.9")
    stainless = judge(wanted, spring(material="stainless steel"))
    assert stainless.margins["press_percent"] == Decimal("-16.6")
    assert judge(wanted, spring(material="steel")).preference == 0


@pytest.mark.parametrize(
    ("lot", "word"),
    [
        (spring(material=None), "material is not known"),
        (piece(outside_diameter="5", length="16"), "wire is not known"),
        (piece(outside_diameter="5", wire_diameter="0.5"), "free length is not known"),
    ],
)
def test_what_is_not_known_of_a_piece_is_tried_in(spring_inputs, pen_spring, lot, word) -> None:
    """Material, wire or length unknown: worth a try, never a fit, and what to measure is said."""
    judgement = judge(spring_inputs(**pen_spring), lot)
    assert judgement.verdict is Verdict.TRY_IN
    assert word in judgement.why


def test_wire_follows_from_inside_and_outside(spring_inputs, pen_spring) -> None:
    """5 outside and 4 inside is a wire of 0.5, so the piece is the like."""
    lot = piece(outside_diameter="5", inside_diameter="4", length="16")
    assert judge(spring_inputs(**pen_spring), lot).preference == 0


@pytest.mark.parametrize(
    ("lot", "word"),
    [
        (Piece("gasket", {"outside_diameter": 5_000_000}, {}), "not a coil spring"),
        (piece(wire_diameter="0.5"), "measure the bag"),
        (spring(wire="2.5"), "measure the bag again"),
        (piece(outside_diameter="5", inside_diameter="6"), "measure the bag again"),
    ],
)
def test_what_cannot_be_judged_is_refused(spring_inputs, pen_spring, lot, word) -> None:
    """Another kind, no outside, and measures that contradict each other."""
    judgement = judge(spring_inputs(**pen_spring), lot)
    assert judgement.verdict is Verdict.REFUSED
    assert word in judgement.why


def test_what_to_buy_is_the_old_spring(spring_inputs, pen_spring) -> None:
    """Wire, outside, free length, coils and ends to ask for, and the rate to check."""
    (purchase,) = envelope(spring_inputs(**pen_spring)).to_buy
    for word in ("wire 0.5 mm", "5 mm outside", "16 mm free", "10 coils", "squared and ground"):
        assert word in purchase.ask_for
    assert "0.886 N/mm" in purchase.check_on_arrival


@given(
    outside=st.integers(2_000_000, 9_000_000),
    wire=st.one_of(st.none(), st.integers(200_000, 900_000)),
    length=st.one_of(st.none(), st.integers(5_000_000, 30_000_000)),
    rod=st.one_of(st.none(), st.integers(1_000_000, 4_900_000)),
    bore=st.one_of(st.none(), st.integers(4_950_000, 8_000_000)),
    material=st.sampled_from(("steel", "brass", None)),
)
@settings(deadline=None)
def test_nothing_that_does_not_go_in_is_accepted_or_hidden(
    spring_inputs, pen_spring, outside, wire, length, rod, bore, material
) -> None:
    """Too wide for the bore or too narrow for the rod is refused; the box has its ideal inside."""
    place = {"rod_diameter": rod, "bore_diameter": bore}
    wanted = spring_inputs(**pen_spring, **{name: at for name, at in place.items() if at})
    known = {"outside_diameter": outside, "wire_diameter": wire, "length": length}
    dimensions = {name: value for name, value in known.items() if value is not None}
    verdict = judge(wanted, Piece("spring", dimensions, {}, material)).verdict
    box = envelope(wanted)
    bounds = box.ranges["outside_diameter"]
    assert bounds.low <= box.ideal <= bounds.high
    if bore is not None and outside >= bore:
        assert verdict is Verdict.REFUSED
    if rod is not None and wire is not None and outside - 2 * wire <= rod:
        assert verdict is Verdict.REFUSED
    if verdict is not Verdict.REFUSED and abs(outside - 5_000_000) <= 1_500_000:
        assert bounds.low <= outside <= bounds.high


def test_spring_thinner_than_the_rod_is_refused_whatever_its_wire(
    spring_inputs, pen_spring
) -> None:
    """Without its wire the inside is not known, but an outside under the rod tells enough."""
    wanted = spring_inputs(**pen_spring, rod_diameter="3.6")
    judgement = judge(wanted, piece(outside_diameter="3.6", length="16"))
    assert judgement.verdict is Verdict.REFUSED
    assert "3.6 mm outside does not go over the rod" in judgement.why


def test_counted_coils_decide(spring_inputs, pen_spring) -> None:
    """A lot whose coils were counted is reckoned with them: more coils press less."""
    wanted = spring_inputs(**pen_spring, **PLACE)
    total = wanted.number("total_coils")
    same = replace(spring(), attributes={"total_coils": str(total)})
    assert judge(wanted, same) == judge(wanted, spring())
    more = judge(wanted, replace(spring(), attributes={"total_coils": str(total + 2)}))
    assert more.margins["press_percent"] < 0
    assert not more.why.startswith("like for like")
    many = judge(wanted, replace(spring(), attributes={"total_coils": "19"}))
    assert many.verdict is Verdict.REFUSED
    assert "with 19 coils it would be solid" in many.why
    none = judge(wanted, replace(spring(), attributes={"total_coils": "1", "ends": "squared"}))
    assert none.verdict is Verdict.REFUSED
