"""The verdict on washers in hand, and the box they are searched in."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewell.plugin import Piece, Verdict, parse_length
from sparewell_gaskets.calculator import compute
from sparewell_gaskets.fit import envelope, judge

PACKING = {"bore": "6.5", "rod": "3"}
HEAD = {"backing_washer": "8.2"}


def piece(material: str | None = "nbr", **dimensions: str) -> Piece:
    """Return a measured lot of washers."""
    return Piece(
        kind="gasket",
        dimensions={name: parse_length(text) for name, text in dimensions.items()},
        basis=dict.fromkeys(dimensions, "measured"),
        material=material,
    )


def washer(outside: str, inside: str, thickness: str | None = None, **more: str) -> Piece:
    """Return a washer."""
    dimensions = {"outside_diameter": outside, "inside_diameter": inside}
    if thickness is not None:
        dimensions["thickness"] = thickness
    return piece(**dimensions, **more)


@pytest.mark.parametrize(
    ("outside", "inside", "verdict", "word"),
    [
        ("6.6", "2.91", Verdict.FITS, "suits"),
        ("6.5", "2.85", Verdict.FITS, "suits"),
        ("6.45", "2.91", Verdict.LOOSE, "leaks"),
        ("6.39", "2.91", Verdict.REFUSED, "leaks"),
        ("6.8", "2.91", Verdict.TIGHT, "forced"),
        ("6.91", "2.91", Verdict.REFUSED, "forced"),
        ("6.6", "2.97", Verdict.LOOSE, "hardly grips"),
        ("6.6", "3", Verdict.REFUSED, "hardly grips"),
        ("6.6", "2.5", Verdict.TIGHT, "open it"),
    ],
)
def test_packing_presses_on_both_sides(inputs_of, outside, inside, verdict, word) -> None:
    """The outside at least fills the cavity, the hole is 2 to 5 % under the rod."""
    judgement = judge(inputs_of(**PACKING), washer(outside, inside))
    assert judgement.verdict is verdict
    assert word in judgement.why


@pytest.mark.parametrize(
    ("outside", "thickness", "verdict", "word"),
    [
        ("8.3", "0.635", Verdict.FITS, "wanted"),
        ("21/64 in", "0.025 in", Verdict.FITS, "wanted"),
        ("8.22", "0.635", Verdict.LOOSE, "leaks"),
        ("8.19", "0.635", Verdict.REFUSED, "leaks"),
        ("8.45", "0.635", Verdict.TIGHT, "snags"),
        ("8.51", "0.635", Verdict.REFUSED, "snags"),
        ("8.3", "1/32 in", Verdict.TIGHT, "thicker than is best"),
    ],
)
def test_head_washer_is_over_by_a_hair_only(inputs_of, outside, thickness, verdict, word) -> None:
    """Under its backing washer it leaks, much over it snags; 1/32 in is thick; 1/16 in suits."""
    judgement = judge(inputs_of(**HEAD), washer(outside, "1/16 in", thickness))
    assert judgement.verdict is verdict
    assert word in judgement.why


@pytest.mark.parametrize(
    ("thickness", "verdict"),
    [
        ("0.8", Verdict.REFUSED),
        ("0.82", Verdict.LOOSE),
        ("0.94", Verdict.FITS),
        ("1.2", Verdict.TIGHT),
        ("1.3", Verdict.REFUSED),
    ],
)
def test_flat_washer_stands_out_of_its_seat(inputs_of, thickness, verdict) -> None:
    """In a seat 0.8 mm deep it must be thicker, and not so thick that the seat stays open."""
    wanted = inputs_of(mode="washer", bore="6.5", rod="2", seat_depth="0.8")
    assert judge(wanted, washer("6.4", "2.1", thickness)).verdict is verdict


def test_washer_wider_than_its_seat_is_refused(inputs_of) -> None:
    """6.51 mm does not lie in a seat of 6.5."""
    wanted = inputs_of(mode="washer", bore="6.5", rod="2")
    assert judge(wanted, washer("6.5", "2.1")).verdict is Verdict.FITS
    assert judge(wanted, washer("6.51", "2.1")).verdict is Verdict.REFUSED


def test_unknown_hole_is_tried_in(inputs_of) -> None:
    """A disc or a washer of unknown hole is worth trying, and the hole to punch is named."""
    judgement = judge(inputs_of(**PACKING), piece(outside_diameter="6.6"))
    assert judgement.verdict is Verdict.TRY_IN
    assert "2.91 mm" in judgement.why


def test_washer_where_a_disc_is_wanted_is_refused(inputs_of) -> None:
    """With nothing going through, a hole leaks."""
    assert judge(inputs_of(bore="6.7"), washer("6.6", "2")).verdict is Verdict.REFUSED


def test_silicone_on_a_rod_is_refused_unless_the_workshop_says_otherwise(inputs_of) -> None:
    """It tears; the setting lets it through; in a still seat it is not refused."""
    ring = washer("6.6", "2.91", material="silicone")
    assert judge(inputs_of(**PACKING), ring).verdict is Verdict.REFUSED
    allowed = {"gasket.refuse_silicone_on_rod": False}
    assert judge(inputs_of(**PACKING, changed_settings=allowed), ring).verdict is Verdict.FITS
    still = washer("6.4", "2.1", material="silicone")
    assert judge(inputs_of(mode="washer", bore="6.5", rod="2"), still).verdict is Verdict.FITS


def test_cork_too_large_is_turned_down(inputs_of) -> None:
    """A cork 1.4 mm over is found and tight, and how much to turn is said; rubber is refused."""
    wanted = inputs_of(**PACKING)
    judgement = judge(wanted, washer("8", "2.91", material="cork"))
    assert judgement.verdict is Verdict.TIGHT
    assert "turn the cork down by 1.4 mm" in judgement.why
    assert judge(wanted, washer("8", "2.91")).verdict is Verdict.REFUSED
    assert judge(wanted, washer("8.61", "2.91", material="cork")).verdict is Verdict.REFUSED
    assert envelope(wanted).ranges["outside_diameter"].high == parse_length("8.6")


def test_other_material_than_asked_for_comes_later(inputs_of) -> None:
    """A washer of the material asked for goes before an equal one of another."""
    wanted = inputs_of(**PACKING, material="epdm")
    right = judge(wanted, washer("6.6", "2.91", material="epdm"))
    wrong = judge(wanted, washer("6.6", "2.91"))
    assert right.preference < wrong.preference
    assert "epdm was asked for" in wrong.why


def test_margins_are_what_is_wanted_against_what_is_there(inputs_of) -> None:
    """Nanometres over are positive, under are negative."""
    judgement = judge(inputs_of(**HEAD), washer("8.35", "1.5", "0.6"))
    assert judgement.margins == {
        "outside_diameter": 50_000,
        "inside_diameter": 12_500,
        "thickness": -35_000,
    }


@pytest.mark.parametrize(
    ("lot", "word"),
    [
        (Piece("spring", {"outside_diameter": 6_600_000}, {}), "not a gasket"),
        (Piece("gasket", {}, {}), "measure the bag"),
        (washer("3", "6"), "measure again"),
    ],
)
def test_what_cannot_be_judged_is_refused_with_its_reason(inputs_of, lot, word) -> None:
    """Another kind, an unknown outside, a hole wider than the outside."""
    judgement = judge(inputs_of(**PACKING), lot)
    assert judgement.verdict is Verdict.REFUSED
    assert word in judgement.why


def test_what_to_buy_names_the_size_and_the_sheet(inputs_of) -> None:
    """Outside, hole and thickness to ask for, and a sheet to punch it from."""
    (purchase,) = envelope(inputs_of(**HEAD)).to_buy
    for words in ("8.3 mm", "1.488 mm", "0.635 mm", "sheet"):
        assert words in purchase.ask_for


@given(
    case=st.sampled_from(
        (PACKING, HEAD, {"bore": "6.5"}, {"mode": "washer", "bore": "6.5", "rod": "2"})
    ),
    outside=st.integers(5_000_000, 10_000_000),
    inside=st.one_of(st.none(), st.integers(1_000_000, 4_000_000)),
    thickness=st.one_of(st.none(), st.integers(200_000, 1_500_000)),
    material=st.sampled_from(("nbr", "cork", "silicone", None)),
)
@settings(deadline=None)
def test_the_box_holds_every_washer_that_is_not_refused(
    inputs_of, case, outside, inside, thickness, material
) -> None:
    """The search never hides a piece that the verdict would have accepted."""
    dimensions = {"outside_diameter": outside, "inside_diameter": inside, "thickness": thickness}
    known = {name: value for name, value in dimensions.items() if value is not None}
    wanted = inputs_of(**case)
    judgement = judge(wanted, Piece("gasket", known, {}, material))
    box = envelope(wanted)
    bounds = box.ranges["outside_diameter"]
    assert bounds.low <= box.ideal <= bounds.high
    if judgement.verdict is not Verdict.REFUSED:
        assert bounds.low <= outside <= bounds.high


@pytest.mark.parametrize("sixty_fourths", [18, 21, 25])
def test_a_punch_that_cuts_too_small_is_not_near_enough(inputs_of, sixty_fourths) -> None:
    """The punch of the backing washer's own size cuts what leaks, and is named as no good."""
    inputs = inputs_of(backing_washer=f"{sixty_fourths}/64 in")
    punch = compute(inputs).result["outside_punch"]
    cuts = judge(inputs, washer(f"{sixty_fourths}/64 in", "1.5", "0.635"))
    assert (punch["near_enough"], cuts.verdict) == (False, Verdict.LOOSE)


@pytest.mark.parametrize("bore", ["7.3", "7.5", "8"])
def test_warning_and_verdict_agree_in_the_barrel(inputs_of, bore) -> None:
    """A washer that the warning says would leak in its barrel is not one that fits."""
    inputs = inputs_of(backing_washer="9/32 in", barrel_bore=bore)
    assert any("it would leak" in each for each in compute(inputs).warnings)
    judged = judge(inputs, washer("7.24", "1.5", "0.635"))
    assert (judged.verdict, "wall of its barrel" in judged.why) == (Verdict.LOOSE, True)
