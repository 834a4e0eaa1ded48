"""The verdict on rings in hand, and the box they are searched in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sparewell.plugin import Piece, Verdict, parse_length
from sparewell_o_rings.fit import envelope, judge
from sparewell_o_rings.kind import O_RING


def piece(material: str | None = "nbr", basis: str = "measured", **dimensions: str) -> Piece:
    """Return a bag of rings; one basis holds for all of its dimensions."""
    return Piece(
        kind="o_ring",
        dimensions={name: parse_length(text) for name, text in dimensions.items()},
        basis=dict.fromkeys(dimensions, basis),
        material=material,
    )


def test_a_measured_ring_fits_where_its_size_had_to_be_tried(inputs_of, piston) -> None:
    """-008 is to be tried by its size; measured at 4.47 x 1.78 mm the same ring fits."""
    inputs = inputs_of(**piston)
    measured = judge(inputs, piece(inside_diameter="4.47", cross_section="1.78"))
    nominal = judge(inputs, piece(basis="nominal", inside_diameter="4.47", cross_section="1.78"))
    assert measured.verdict is Verdict.FITS
    assert nominal.verdict is Verdict.TRY_IN
    assert nominal.margins["squeeze_percent_min"] < 12 < measured.margins["squeeze_percent_min"]


def test_measured_section_decides_over_the_size(inputs_of, piston) -> None:
    """A ring of the same inside diameter with a thin section does not fit."""
    judgement = judge(inputs_of(**piston), piece(inside_diameter="4.47", cross_section="1.6"))
    assert judgement.verdict is Verdict.LOOSE
    assert judgement.why.startswith("squeeze")


@pytest.mark.parametrize(
    ("dimensions", "verdict"),
    [
        ({"inside_diameter": "4.47"}, Verdict.REFUSED),
        ({"cross_section": "1.78"}, Verdict.REFUSED),
        ({}, Verdict.REFUSED),
        ({"outside_diameter": "8.03", "cross_section": "1.78"}, Verdict.FITS),
        ({"outside_diameter": "8.03", "inside_diameter": "4.47"}, Verdict.FITS),
        ({"outside_diameter": "3.5", "cross_section": "1.78"}, Verdict.REFUSED),
        ({"outside_diameter": "4", "inside_diameter": "4.47"}, Verdict.REFUSED),
    ],
)
def test_what_is_known_of_a_ring(inputs_of, piston, dimensions, verdict) -> None:
    """Two of three dimensions are enough; less, or a contradiction, asks to measure."""
    judgement = judge(inputs_of(**piston), piece(**dimensions))
    assert judgement.verdict is verdict
    assert verdict is not Verdict.REFUSED or "measure" in judgement.why


def test_another_kind_is_refused(inputs_of, piston) -> None:
    """A sac is not an O-ring."""
    lot = Piece("sac", {"inside_diameter": 4_470_000, "cross_section": 1_780_000}, {})
    assert judge(inputs_of(**piston), lot).verdict is Verdict.REFUSED


ROD = {"gland": "rod", "bore": "5.98", "rod": "2.6", "groove_width": "2.5", "duty": "moving"}
RING = {"inside_diameter": "2.55", "cross_section": "1.88"}


@pytest.mark.parametrize(
    ("material", "more", "verdict"),
    [
        ("nbr", {}, Verdict.FITS),
        ("epdm", {}, Verdict.FITS),
        ("silicone", {}, Verdict.REFUSED),
        (None, {}, Verdict.TRY_IN),
        ("mystery", {}, Verdict.TRY_IN),
        ("fkm", {"flush": "ammonia"}, Verdict.REFUSED),
        ("epdm", {"grease": "petroleum"}, Verdict.REFUSED),
        ("epdm", {"grease": "silicone", "flush": "ammonia"}, Verdict.FITS),
    ],
)
def test_material_decides_too(inputs_of, material, more, verdict) -> None:
    """What tears, swells or is attacked is refused; unknown rubber is only tried."""
    judgement = judge(inputs_of(**ROD, **more), piece(material, **RING))
    assert judgement.verdict is verdict, judgement.why


def test_refusing_a_material_is_a_setting(inputs_of) -> None:
    """With the setting off, silicone on a moving rod is a doubt that is told."""
    inputs = inputs_of(changed_settings={"o_ring.refuse_unsuitable_material": False}, **ROD)
    judgement = judge(inputs, piece("silicone", **RING))
    assert judgement.verdict is Verdict.TRY_IN
    assert "tears" in judgement.why


def test_another_material_than_asked_for_is_remarked(inputs_of) -> None:
    """A suitable ring of another material still fits, and the difference is told."""
    judgement = judge(inputs_of(material="nbr", **ROD), piece("epdm", **RING))
    assert judgement.verdict is Verdict.FITS
    assert "NBR was asked for" in judgement.why


def test_preference_is_distance_then_stretch(inputs_of, piston) -> None:
    """Of two rings of one verdict the one nearer the band, then nearer 2 %, is preferred."""
    inputs = inputs_of(**piston)
    sections = [
        judge(inputs, piece(inside_diameter="4.5", cross_section=text))
        for text in ("1.78", "1.92", "1.99")
    ]
    points = [judgement.preference for judgement in sections]
    assert points == sorted(points)
    assert points[0] < 100 < points[2]
    nearer = judge(inputs, piece(inside_diameter="4.5", cross_section="1.8"))
    further = judge(inputs, piece(inside_diameter="4.35", cross_section="1.8"))
    assert nearer.verdict is further.verdict is Verdict.FITS
    assert nearer.preference < further.preference


def test_the_box_holds_whatever_is_not_refused(inputs_of, piston) -> None:
    """Every measured ring that earns more than a refusal lies inside the ranges searched."""
    inputs = inputs_of(**piston)
    box = envelope(inputs)
    inside, section = box.ranges["inside_diameter"], box.ranges["cross_section"]
    found = 0
    for inside_hundredths in range(300, 620, 7):
        for section_hundredths in range(120, 330, 6):
            lot = Piece(
                "o_ring",
                {
                    "inside_diameter": inside_hundredths * 10_000,
                    "cross_section": section_hundredths * 10_000,
                },
                {"inside_diameter": "measured", "cross_section": "measured"},
                "nbr",
            )
            if judge(inputs, lot).verdict is not Verdict.REFUSED:
                found += 1
                assert inside.low <= lot.dimensions["inside_diameter"] <= inside.high
                assert section.low <= lot.dimensions["cross_section"] <= section.high
    assert found > 50
    assert inside.low <= box.ideal <= inside.high


def test_what_to_buy(inputs_of, piston) -> None:
    """The best of the tables and a free metric ring, with what to measure on arrival."""
    purchases = envelope(inputs_of(**piston)).to_buy
    assert len(purchases) == 2
    assert "free metric" in purchases[1].ask_for
    assert "section" in purchases[0].check_on_arrival
    moving = envelope(inputs_of(material="epdm", **ROD)).to_buy
    assert all("EPDM" in purchase.ask_for for purchase in moving)


MOVING = {"gland": "rod", "rod": "5.1", "bore": "6.85", "groove_width": "1.5", "duty": "moving"}


def with_spread(spread: str, **dimensions: str) -> Piece:
    """Return a bag of rings of which everything was measured so closely."""
    return replace(piece(**dimensions), spreads=dict.fromkeys(dimensions, parse_length(spread)))


@pytest.mark.parametrize(
    ("spread", "verdict"),
    [("0.01", Verdict.FITS), ("0.03", Verdict.TRY_IN), ("0.005", Verdict.FITS)],
)
def test_a_ring_measured_closely_fits_a_moving_seal(inputs_of, spread, verdict) -> None:
    """5 x 1 to within 0.01 mm fits where 0.03 mm would be wider than the band."""
    lot = with_spread(spread, inside_diameter="5", cross_section="1")
    judgement = judge(inputs_of(**MOVING), lot)
    assert judgement.verdict is verdict, judgement.why


def test_outside_and_inside_give_the_section_with_its_spread(inputs_of) -> None:
    """A section of half the difference is as sure as half of both spreads together."""
    lot = with_spread("0.01", outside_diameter="7", inside_diameter="5")
    judged = judge(inputs_of(**MOVING), lot)
    directly = judge(
        inputs_of(**MOVING), with_spread("0.01", inside_diameter="5", cross_section="1")
    )
    assert (judged.verdict, judged.margins) == (directly.verdict, directly.margins)


@pytest.mark.parametrize("inside", ["1.2", "2", "3", "4", "5"])
def test_beyond_the_model_no_squeeze_is_named(inputs_of, inside) -> None:
    """A ring stretched further than the published tables go is refused for its stretch alone."""
    gland = {"gland": "piston", "bore": "9", "groove_diameter": "7", "groove_width": "2.4"}
    judgement = judge(
        inputs_of(duty="static", **gland),
        piece(basis="nominal", inside_diameter=inside, cross_section="1"),
    )
    assert judgement.verdict is Verdict.REFUSED
    assert judgement.why.startswith("stretch")
    assert "the squeeze is not reckoned" in judgement.why
    assert "squeeze_percent" not in judgement.margins


def test_nitrile_is_asked_for_unless_another_is_named(inputs_of) -> None:
    """A seller is asked for NBR; for FKM only where a person wants it."""
    unnamed = envelope(inputs_of(**MOVING)).to_buy
    named = envelope(inputs_of(material="fkm", **MOVING)).to_buy
    assert unnamed
    assert all("in NBR" in each.ask_for for each in unnamed)
    assert all("in FKM" in each.ask_for for each in named)


@pytest.mark.parametrize(
    ("text", "inside", "section"),
    [
        ("-008", "0.176 in", "0.070 in"),
        ("AS568-008", "0.176 in", "0.070 in"),
        ("008", "0.176 in", "0.070 in"),
        ("JIS B 2401 P5", "4.8", "1.9"),
        ("5 x 1 mm", "5", "1"),
    ],
)
def test_a_number_of_a_table_says_a_size(text, inside, section) -> None:
    """A packet's number is looked up in the tables, and two dimensions are taken as they stand."""
    read = O_RING.read_label(text)
    assert read == {"inside_diameter": parse_length(inside), "cross_section": parse_length(section)}


@pytest.mark.parametrize("text", ["", "12", "rings", "for the piston", "5 x"])
def test_a_text_that_is_no_size_says_none(text) -> None:
    """What is in no table is no size."""
    assert O_RING.read_label(text) == {}
