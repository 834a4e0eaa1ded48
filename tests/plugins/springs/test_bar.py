"""Pressure bars: how long they are cut, how wide they are, and the verdict on those in hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewell.plugin import Piece, Verdict, parse_length
from sparewell_springs.bar_calculator import compute
from sparewell_springs.bar_fit import bar_envelope, bar_judge, bar_settles
from sparewell_springs.bar_sizing import height_in_place

PEN = {"barrel_depth": "62", "barrel_bore": "8", "tenon_length": "12"}


def bar(width: str, length: str, thickness: str | None = None) -> Piece:
    """Return a measured lot of bars."""
    dimensions = {"width": parse_length(width), "length": parse_length(length)}
    if thickness is not None:
        dimensions["thickness"] = parse_length(thickness)
    return Piece("pressure_bar", dimensions, dict.fromkeys(dimensions, "measured"), "steel")


@pytest.mark.parametrize(("kind", "cut"), [("j_bar", "48"), ("button_bar", "49.5")])
def test_bar_is_cut_to_what_the_section_leaves(bar_inputs, kind, cut) -> None:
    """62 deep less a tenon of 12: less 2 for a J-bar, less 0.5 of play for a button bar."""
    result = compute(bar_inputs(**PEN, bar_kind=kind)).result
    assert result["cut_length"] == parse_length(cut)
    assert result["bar_kind"] == kind
    assert result["tenon_measured"] is True


def test_unmeasured_tenon_is_assumed_aloud(bar_inputs) -> None:
    """10 mm stand in for it, nothing is cut before it is measured, and no kind is a J-bar."""
    answer = compute(bar_inputs(barrel_depth="62", barrel_bore="8"))
    assert answer.result["cut_length"] == parse_length("50")
    assert answer.result["tenon_measured"] is False
    assert any("before anything is cut" in warning for warning in answer.warnings)
    assert any("J-bar is assumed" in warning for warning in answer.warnings)
    assert not compute(bar_inputs(**PEN, bar_kind="j_bar")).warnings


def test_consequences_are_those_of_the_kind(bar_inputs) -> None:
    """A button bar too long holds the sac squeezed, too short does not bow."""
    result = compute(bar_inputs(**PEN, bar_kind="button_bar")).result
    assert "squeezed" in result["if_too_long"]
    assert "does not bow" in result["if_too_short"]
    lever = compute(bar_inputs(**PEN, bar_kind="j_bar")).result
    assert "jams the lever" in lever["if_too_long"]


def test_width_is_the_old_bars_else_a_share_of_the_bore(bar_inputs) -> None:
    """Of a bore of 8 mm 55 % are 4.4; an old bar of 5 mm is the better guide."""
    by_bore = compute(bar_inputs(**PEN)).result
    assert by_bore["width"] == parse_length("4.4")
    assert (by_bore["narrowest"], by_bore["widest"]) == (parse_length("2.8"), parse_length("6"))
    assert compute(bar_inputs(**PEN, bar_width="5")).result["width"] == parse_length("5")


def test_slot_asks_for_a_wider_bar(bar_inputs) -> None:
    """A slot of 4.2 mm needs at least 4.7, or the bar comes out through it."""
    result = compute(bar_inputs(**PEN, slot_width="4.2")).result
    assert result["narrowest"] == parse_length("4.7")
    assert result["width"] == parse_length("4.7")


def test_unusual_old_bar_is_doubted_and_still_followed(bar_inputs) -> None:
    """7 mm in a bore of 8 went in, so it is followed; but it may be another pen's."""
    answer = compute(bar_inputs(**PEN, bar_width="7"))
    assert answer.result["width"] == parse_length("7")
    assert any("bar of this pen" in warning for warning in answer.warnings)


@pytest.mark.parametrize(
    ("bore", "width", "thickness", "height"),
    [
        # By Pythagoras: (10 - 8) / 2 = 1 and (13 - 5) / 2 = 4 above the wall.
        (10_000_000, 6_000_000, 500_000, 1_500_000),
        (13_000_000, 12_000_000, 500_000, 4_500_000),
        (10_000_000, 10_000_000, 500_000, None),
        (10_000_000, 6_000_000, 9_000_000, None),
    ],
)
def test_bar_in_place_lies_as_a_chord(bore, width, thickness, height) -> None:
    """Heights of right triangles in whole millimetres; a bar that fills the bore has none."""
    assert height_in_place(bore, width=width, thickness=thickness) == height


def test_old_bars_height_is_answered_for_the_sac(bar_inputs) -> None:
    """With width and thickness the height in place is worked out; with one of them it is not."""
    both = compute(bar_inputs(**PEN, bar_width="4.8", bar_thickness="0.5")).result
    assert both["height_in_place"] == parse_length("1.3")
    thick = compute(bar_inputs(**PEN, bar_thickness="0.5"))
    assert thick.result["height_in_place"] is None
    assert any("bar_thickness is not used" in warning for warning in thick.warnings)


@pytest.mark.parametrize(
    ("lot", "verdict", "word"),
    [
        (bar("4.4", "48"), Verdict.FITS, "just as long"),
        (bar("4.4", "60"), Verdict.FITS, "cut 12 mm off its flat end, to 48 mm"),
        (bar("4.4", "47.9"), Verdict.REFUSED, "0.1 mm too short"),
        (bar("6.1", "60"), Verdict.REFUSED, "no room"),
        (bar("2.7", "60"), Verdict.REFUSED, "too narrow"),
    ],
)
def test_longer_is_cut_and_shorter_never_does(bar_inputs, lot, verdict, word) -> None:
    """A longer bar fits and what is cut away is said; a shorter, wider or narrower is refused."""
    judgement = bar_judge(bar_inputs(**PEN), lot)
    assert judgement.verdict is verdict
    assert word in judgement.why
    assert judgement.margins["cut_away"] == lot.dimensions["length"] - parse_length("48")


def test_least_waste_goes_first(bar_inputs) -> None:
    """Of two that fit, the one with less to cut away is preferred."""
    wanted = bar_inputs(**PEN)
    near, far = (bar_judge(wanted, bar("4.4", length)).preference for length in ("50", "60"))
    assert near < far


def test_unmeasured_tenon_is_tried_in(bar_inputs) -> None:
    """Without the tenon no bar is more than worth trying."""
    wanted = bar_inputs(barrel_depth="62", barrel_bore="8")
    assert bar_judge(wanted, bar("4.4", "60")).verdict is Verdict.TRY_IN


@pytest.mark.parametrize(
    ("width", "verdict"),
    [
        ("5.3", Verdict.FITS),
        ("5.31", Verdict.TIGHT),
        ("4.7", Verdict.FITS),
        ("4.69", Verdict.LOOSE),
    ],
)
def test_old_bar_is_the_measure(bar_inputs, width, verdict) -> None:
    """Within 0.3 mm of the old bar's 5 mm it fits, beyond it is tight or loose."""
    assert bar_judge(bar_inputs(**PEN, bar_width="5"), bar(width, "60")).verdict is verdict


def test_height_of_a_piece_is_said_for_the_sac(bar_inputs) -> None:
    """4.8 wide and 0.5 thick in a bore of 8 stands 1.3 mm off the wall."""
    judgement = bar_judge(bar_inputs(**PEN), bar("4.8", "60", "0.5"))
    assert judgement.margins["height_in_place"] == parse_length("1.3")
    assert "1.3 mm off the wall" in judgement.why


@pytest.mark.parametrize(
    ("lot", "word"),
    [
        (Piece("spring", {"width": 1, "length": 1}, {}), "not a pressure bar"),
        (Piece("pressure_bar", {"width": 4_400_000}, {}), "length is not known"),
        (Piece("pressure_bar", {}, {}), "its width and its length"),
    ],
)
def test_what_cannot_be_judged_is_refused(bar_inputs, lot, word) -> None:
    """Another kind, or a bag that was not measured."""
    judgement = bar_judge(bar_inputs(**PEN), lot)
    assert judgement.verdict is Verdict.REFUSED
    assert word in judgement.why


@given(
    width=st.integers(1_000_000, 9_000_000),
    length=st.integers(20_000_000, 100_000_000),
    tenon=st.integers(0, 40_000_000),
    kind=st.sampled_from(("j_bar", "button_bar")),
)
@settings(deadline=None)
def test_box_and_verdict_agree(bar_inputs, width, length, tenon, kind) -> None:
    """What is in the box is not refused and what is outside is; a shorter bar never passes."""
    wanted = bar_inputs(**{**PEN, "tenon_length": tenon}, bar_kind=kind)
    box = bar_envelope(wanted).ranges
    lot = Piece("pressure_bar", {"width": width, "length": length}, {}, None)
    inside = box["width"].low <= width <= box["width"].high and length >= box["length"].low
    assert (bar_judge(wanted, lot).verdict is not Verdict.REFUSED) is inside
    allowed = 500_000 if kind == "button_bar" else 0
    assert inside is False or length >= compute(wanted).result["cut_length"] - allowed


def test_bars_bring_their_cautions(bar_inputs) -> None:
    """Cut steel flies; a J-bar is not pulled by its long end; a button bar leaves by the tail."""
    lever = " ".join(compute(bar_inputs(**PEN, bar_kind="j_bar")).cautions)
    for word in ("eye protection", "long end", "lever box", "safety sheets"):
        assert word in lever
    button = compute(bar_inputs(**PEN, bar_kind="button_bar")).cautions
    assert "from the tail first" in button[0]


def test_known_kind_of_bar_decides(bar_inputs) -> None:
    """A lot known to be button bars is refused for a J-bar; a known J-bar needs no second look."""
    wanted = bar_inputs(**PEN, bar_kind="j_bar")
    other = replace(bar("4.4", "60"), attributes={"bar_kind": "button_bar"})
    assert bar_judge(wanted, other).verdict is Verdict.REFUSED
    assert "it is a button bar" in bar_judge(wanted, other).why
    own = replace(other, attributes={"bar_kind": "j_bar"})
    assert bar_judge(wanted, own).verdict is Verdict.FITS
    assert "its size does not tell" not in bar_judge(wanted, own).why


@pytest.mark.parametrize(
    ("length", "verdict", "words"),
    [
        ("50", Verdict.FITS, "cut 0.5 mm off one end"),
        ("49.5", Verdict.FITS, "just as long"),
        ("49", Verdict.TRY_IN, "0.5 mm shorter than wanted"),
        ("48.9", Verdict.REFUSED, "too short"),
    ],
)
def test_half_a_millimetre_never_refuses_a_button_bar(bar_inputs, length, verdict, words) -> None:
    """Half a millimetre too long is cut, half a millimetre too short is tried in, and both said."""
    judgement = bar_judge(bar_inputs(**PEN, bar_kind="button_bar"), bar("4.4", length))
    assert judgement.verdict is verdict
    assert words in judgement.why


def test_a_bar_settles_how_high_it_stands(bar_inputs) -> None:
    """A strip of 3 x 0.5 stands 0.792 mm off the wall of an 8 mm bore; unmeasured, nobody knows."""
    wanted = bar_inputs(**PEN)
    assert bar_settles(wanted, bar("3", "60", "0.5"))["bar_height"] == pytest.approx(
        791_900, abs=50
    )
    assert bar_settles(wanted, bar("3", "60")) == {}
