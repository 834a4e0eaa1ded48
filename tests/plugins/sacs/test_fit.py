"""The verdict on pieces in hand, and the box they are searched in."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from sparewell.plugin import Piece, Verdict, parse_length
from sparewell_sacs.fit import envelope, judge
from sparewell_sacs.sizing import sizing_of


def piece(material: str | None = "latex", basis: str = "measured", **dimensions: str) -> Piece:
    """Return a lot of sacs; one basis holds for all of its dimensions."""
    return Piece(
        kind="sac",
        dimensions={name: parse_length(text) for name, text in dimensions.items()},
        basis=dict.fromkeys(dimensions, basis),
        material=material,
    )


def test_measured_outside_with_nominal_inside_fits(inputs_of, sample) -> None:
    """5.9 mm outside, 5.05 inside: fits, stretched 26.7 %, which is noted as high (derived)."""
    lot = Piece(
        kind="sac",
        dimensions={
            "outside_diameter": parse_length("5.9"),
            "inside_diameter": parse_length("5.05"),
        },
        basis={"outside_diameter": "measured", "inside_diameter": "nominal"},
        material="latex",
    )
    judgement = judge(inputs_of(**sample), lot)
    assert judgement.verdict is Verdict.FITS
    assert judgement.margins == {
        "barrel": parse_length("0.3"),
        # sqrt(6.4² + 5.9² - 5.05²) = 7.0900 mm of 8.
        "over_nipple": 910_042,
        "stretch_percent": Decimal("26.7"),
    }
    assert "26.7 %" in judgement.why
    assert "high" in judgement.why


def test_outside_alone_is_judged_with_an_ordinary_wall(inputs_of, sample) -> None:
    """5.95 mm of latex fits, with the band of stretch over the usual walls."""
    judgement = judge(inputs_of(**sample), piece(outside_diameter="5.95"))
    assert judgement.verdict is Verdict.FITS
    assert "26.7 % (21.9 % to 29.3 %)" in judgement.why


def test_too_wide_for_the_barrel_is_refused(inputs_of, sample) -> None:
    """6.55 mm does not go where 6.2 are left, and the difference is named."""
    judgement = judge(inputs_of(**sample), piece(outside_diameter="6.55"))
    assert judgement.verdict is Verdict.REFUSED
    assert judgement.why == "0.35 mm too wide for the barrel with the bar in place"
    assert judgement.margins["barrel"] == -350_000


def test_exactly_as_wide_as_the_room_fits(inputs_of, sample) -> None:
    """6.2 mm goes into 6.2 by the readings, to be dry-fitted; a nanometre more does not."""
    inputs = inputs_of(**sample)
    assert judge(inputs, piece(outside_diameter="6.2")).verdict is Verdict.TRY_IN
    wider = Piece("sac", {"outside_diameter": 6_200_001}, {}, "latex")
    assert judge(inputs, wider).verdict is Verdict.REFUSED


def test_the_label_decides_nothing(inputs_of, sample) -> None:
    """A packet that says 18 is judged by the 5.9 mm it measures."""
    lot = Piece("sac", {"outside_diameter": 5_900_000}, {}, "latex", label="18")
    assert judge(inputs_of(**sample), lot).verdict is not Verdict.REFUSED


def test_an_unmeasured_bag_is_refused(inputs_of, sample) -> None:
    """Without an outside diameter the bag is to be measured first."""
    judgement = judge(inputs_of(**sample), piece(inside_diameter="5"))
    assert judgement.verdict is Verdict.REFUSED
    assert "measure the bag" in judgement.why


def test_another_kind_is_refused(inputs_of, sample) -> None:
    """A gasket is not a sac."""
    lot = Piece("gasket", {"outside_diameter": 5_900_000}, {})
    assert judge(inputs_of(**sample), lot).verdict is Verdict.REFUSED


# Bands of stretch: common practice, no source. Inside diameters on a nipple of 6.4 mm: derived.
@pytest.mark.parametrize(
    ("inside", "material", "verdict"),
    [
        ("6.5", "latex", Verdict.REFUSED),
        ("6.4", "latex", Verdict.LOOSE),
        ("6.25", "latex", Verdict.LOOSE),
        ("6.15", "latex", Verdict.LOOSE),
        ("6.0", "latex", Verdict.FITS),
        ("5.4", "silicone", Verdict.FITS),
        ("5.2", "latex", Verdict.FITS),
        ("5.2", "silicone", Verdict.TIGHT),
        ("5.2", "pvc", Verdict.TIGHT),
        ("5.2", None, Verdict.TIGHT),
        ("5.2", "mystery", Verdict.TIGHT),
        ("4.8", "latex", Verdict.TIGHT),
        ("4.7", "latex", Verdict.REFUSED),
    ],
)
def test_verdict_by_stretch_and_material(inputs_of, inside, material, verdict) -> None:
    """Each band of stretch has its verdict; an unknown material counts as the stiffest."""
    inputs = inputs_of(barrel_bore="12", bar_rule="none", nipple_diameter="6.4")
    outside = str(Decimal(inside) + Decimal("0.9"))
    lot = piece(material, outside_diameter=outside, inside_diameter=inside)
    assert judge(inputs, lot).verdict is verdict


def test_unknown_material_is_said(inputs_of, sample) -> None:
    """Why a piece of unknown material is tight is told."""
    judgement = judge(inputs_of(**sample), piece(None, outside_diameter="6.1"))
    assert judgement.verdict is Verdict.TIGHT
    assert "material being unknown" in judgement.why


def test_a_known_thickness_replaces_the_ordinary_wall(inputs_of, sample) -> None:
    """6.1 mm outside with a wall of 0.3 is 5.5 inside: 16.4 % (derived)."""
    judgement = judge(inputs_of(**sample), piece(outside_diameter="6.1", thickness="0.3"))
    assert judgement.margins["stretch_percent"] == Decimal("16.4")


def test_a_nominal_inside_that_the_outside_belies_is_dropped(inputs_of, sample) -> None:
    """5.9 mm measured outside makes a nominal 6 mm inside impossible, so the wall is used."""
    lot = Piece(
        "sac",
        {"outside_diameter": 5_900_000, "inside_diameter": 6_000_000},
        {"outside_diameter": "measured", "inside_diameter": "nominal"},
        "latex",
    )
    assert judge(inputs_of(**sample), lot).margins["stretch_percent"] == Decimal("28.0")


@pytest.mark.parametrize(
    "dimensions",
    [
        {"outside_diameter": "5.9", "inside_diameter": "5.9"},
        {"outside_diameter": "5.9", "thickness": "2.95"},
        {"outside_diameter": "5.9", "neck_diameter": "6"},
    ],
)
def test_contradicting_measures_are_refused(inputs_of, sample, dimensions) -> None:
    """No hole, or a neck wider than its body, is a misreading: measure again."""
    judgement = judge(inputs_of(**sample), piece(**dimensions))
    assert judgement.verdict is Verdict.REFUSED
    assert "measure again" in judgement.why


def test_a_thick_wall_does_not_enter_over_the_nipple(inputs_of) -> None:
    """A wall of 0.7 mm makes the 6.4 mm nipple 7.526 mm, which does not go into 7.5."""
    inputs = inputs_of(guard_bore="7.5", nipple_diameter="6.4")
    judgement = judge(inputs, piece(outside_diameter="6.3", thickness="0.7"))
    assert judgement.verdict is Verdict.REFUSED
    assert "does not enter" in judgement.why
    assert "over the nipple it measures 7.526" in judgement.why


def test_a_stretched_wall_is_thinner(inputs_of) -> None:
    """A 14 with a wall of 0.35 mm over 5.7 mm measures 6.307 mm, and goes into a guard of 6.4."""
    inputs = inputs_of(guard_bore="6.4", nipple_diameter="5.7", clearance="0")
    judgement = judge(inputs, piece(outside_diameter="5.556", thickness="0.35"))
    assert judgement.verdict is Verdict.TRY_IN
    assert judgement.margins["over_nipple"] == pytest.approx(92_900, abs=200)


def test_a_necked_sac_grips_by_its_neck(inputs_of) -> None:
    """A body of 7.4 mm with a neck of 6 fits where the straight sac would hang loose."""
    inputs = inputs_of(barrel_bore="8.6", bar_height="0.5", clearance="0", nipple_diameter="6")
    necked = judge(inputs, piece(outside_diameter="7.4", neck_diameter="6.0"))
    straight = judge(inputs, piece(outside_diameter="7.4"))
    assert necked.verdict is Verdict.FITS
    assert necked.margins["stretch_percent"] == Decimal("17.6")
    assert straight.verdict is Verdict.REFUSED


def test_a_tapered_sac_need_only_pass_the_mouth(inputs_of) -> None:
    """A straight sac is held to the narrow tail; a tapered one to mouth and tip apart."""
    inputs = inputs_of(
        barrel_bore="9", barrel_bore_tail="7.8", bar_height="0.9", nipple_diameter="6.8"
    )
    straight = judge(inputs, piece(outside_diameter="6.6"))
    tapered = judge(inputs, piece(outside_diameter="6.6", tip_diameter="5.9"))
    blunt = judge(inputs, piece(outside_diameter="6.6", tip_diameter="6.1"))
    assert straight.verdict is Verdict.REFUSED
    assert tapered.verdict is Verdict.FITS
    assert tapered.margins["tip"] == 100_000
    assert blunt.verdict is Verdict.REFUSED
    assert "too wide for the tail" in blunt.why


@pytest.mark.parametrize(
    ("length", "verdict", "words"),
    [
        ("46", Verdict.FITS, ""),
        ("42", Verdict.FITS, "4 mm shorter"),
        ("40.9", Verdict.REFUSED, "5.1 mm too short"),
    ],
)
def test_length_once_the_cut_is_known(inputs_of, sample, length, verdict, words) -> None:
    """A little short is noted, more than 5 mm short is refused: common practice, no source."""
    inputs = inputs_of(**sample, tenon_length="12")
    judgement = judge(inputs, piece(outside_diameter="6.0", length=length))
    assert judgement.verdict is verdict
    assert words in judgement.why
    assert judgement.margins["length"] == parse_length(length) - parse_length("46")


def test_silicone_in_a_guard_is_refused_and_unknown_is_tried_in(inputs_of) -> None:
    """Inside a guard silicone is refused unless a workshop's setting allows it."""
    values = {"guard_bore": "7", "nipple_diameter": "5.6"}
    lot = {"outside_diameter": "5.75"}
    assert judge(inputs_of(**values), piece("latex", **lot)).verdict is Verdict.FITS
    refused = judge(inputs_of(**values), piece("silicone", **lot))
    assert refused.verdict is Verdict.REFUSED
    assert "override" in refused.why
    unknown = judge(inputs_of(**values), piece(None, **lot))
    assert unknown.verdict is Verdict.TRY_IN
    allowed = inputs_of(**values, changed_settings={"sac.refuse_silicone_in_guard": False})
    assert judge(allowed, piece("silicone", **lot)).verdict is Verdict.FITS


def test_a_doubtful_barrel_makes_a_fitting_piece_one_to_try(inputs_of) -> None:
    """Where the barrel is in doubt, the question comes with every piece that would fit."""
    inputs = inputs_of(barrel_bore="11.2", bar_height="1.2", clearance="0", nipple_diameter="10.1")
    judgement = judge(inputs, piece(outside_diameter="8.8", inside_diameter="8.2"))
    assert judgement.verdict is Verdict.TRY_IN
    assert "check the barrel first" in judgement.why


def test_a_try_in_widens_what_is_taken(inputs_of, sample) -> None:
    """A 16 tried in lets 6.35 mm through, and a quarter size more, but not half a size."""
    inputs = inputs_of(**sample, try_in=Decimal(16))
    assert judge(inputs, piece(outside_diameter="6.35")).verdict is Verdict.FITS
    assert judge(inputs, piece(outside_diameter="6.44")).verdict is Verdict.FITS
    wider = judge(inputs, piece(outside_diameter="6.46"))
    assert wider.verdict is Verdict.REFUSED
    assert "tried in" in wider.why


def test_another_material_than_asked_for_is_mentioned(inputs_of, sample) -> None:
    """A latex lot is not refused where silicone was asked for, but it is said."""
    judgement = judge(inputs_of(**sample, material="silicone"), piece(outside_diameter="6.0"))
    assert judgement.verdict is Verdict.FITS
    assert "silicone was asked for" in judgement.why


def test_box_holds_what_the_barrel_takes(inputs_of, sample) -> None:
    """The box ends at 6.2 mm, begins at the tightest hole, and looks for a 15½ first."""
    box = envelope(inputs_of(**sample))
    bounds = box.ranges["outside_diameter"]
    assert box.kind == "sac"
    assert bounds.high == parse_length("6.2")
    assert bounds.low == 4_740_741  # 6.4 mm / 1.35, rounded up
    assert box.ideal == 6_151_562  # 15.5 x 0.396875 mm, rounded down
    assert "15½ (or 15)" in box.to_buy[0].ask_for
    assert "6.2 mm" in box.to_buy[0].check_on_arrival


def test_nothing_is_bought_while_the_barrel_is_in_doubt(inputs_of) -> None:
    """Where the barrel is to be checked, no purchase is proposed."""
    box = envelope(inputs_of(barrel_bore="7", bar_height="0.9", nipple_diameter="6.5"))
    assert box.to_buy == ()


def test_nothing_is_bought_below_what_is_sold(inputs_of) -> None:
    """Below size 8 there is nothing to ask for."""
    box = envelope(inputs_of(barrel_bore="5", bar_height="0.9", nipple_diameter="3.0"))
    assert box.to_buy == ()


def test_a_necked_sac_can_be_bought_for_a_small_nipple(inputs_of) -> None:
    """Where the nipple limits, the necked sac is the second thing to ask for."""
    box = envelope(inputs_of(barrel_bore="10.2", bar_height="0.9", nipple_diameter="7"))
    assert ["necked" in purchase.ask_for for purchase in box.to_buy] == [False, True]


def test_a_thin_sac_is_asked_for_where_an_ordinary_one_does_not_enter(inputs_of) -> None:
    """A 6.4 mm nipple in a 7 mm bore takes only a 16 with a wall under 0.334 mm."""
    box = envelope(inputs_of(barrel_bore="7", bar_rule="none", nipple_diameter="6.4"))
    assert "thin-walled" in box.to_buy[0].ask_for
    assert "0.334 mm" in box.to_buy[0].check_on_arrival


@pytest.mark.parametrize(
    ("outside", "spreads", "verdict"),
    [
        ("6.01", {}, Verdict.TRY_IN),
        ("5.99", {}, Verdict.FITS),
        ("6.01", {"barrel_bore": "0.02"}, Verdict.FITS),
        ("6.01", {"barrel_bore": "0.02", "bar_height": "0.1"}, Verdict.TRY_IN),
    ],
)
def test_less_room_than_the_readings_may_be_off_is_tried_in(
    inputs_of, sample, outside, spreads, verdict
) -> None:
    """Less room than 0.1 mm of bore and twice 0.05 mm of bar, or than their spreads: dry-fit it."""
    judgement = judge(inputs_of(spreads=spreads, **sample), piece(outside_diameter=outside))
    assert judgement.verdict is verdict
    assert ("if it is pinched take the 14½" in judgement.why) is (verdict is Verdict.TRY_IN)


def test_the_size_recommended_is_preferred_and_a_larger_one_never_before_it(
    inputs_of, sample
) -> None:
    """Nearest to the half size recommended first, below before above: 15½, 15, then the others."""
    inputs = inputs_of(**{**sample, "barrel_bore": "9"})
    assert sizing_of(inputs).recommended == Fraction(16)
    order = ("6.35", "6.1", "6.6", "5.95", "6.75")
    preferences = [judge(inputs, piece(outside_diameter=each)).preference for each in order]
    assert preferences == sorted(preferences)
    assert preferences[0] == 0
    judged = [judge(inputs, piece(outside_diameter=each)).is_recommended for each in order]
    assert judged == [True, False, False, False, False]


def test_a_shaped_sac_is_offered_and_never_taken_unasked(inputs_of, sample) -> None:
    """Necked and tapered sacs would do, and are left to a person."""
    inputs = inputs_of(**sample)
    for shape in ({"neck_diameter": "5.9"}, {"tip_diameter": "5.0"}):
        assert not judge(inputs, piece(outside_diameter="5.95", **shape)).is_taken_unasked
    assert judge(inputs, piece(outside_diameter="5.95")).is_taken_unasked
