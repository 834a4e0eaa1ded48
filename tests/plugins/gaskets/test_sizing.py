"""Which washer a place takes: packing, flat washer, head washer; punches, stack, notices."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.plugin import parse_length
from sparewell_gaskets.calculator import compute

INCH_64TH = 396_875


def test_packing_is_under_the_rod_and_over_the_cavity(inputs_of) -> None:
    """Rod 3 mm less 3 % is 2.91 mm, and a cavity of 6.5 mm takes 6.6 mm."""
    result = compute(inputs_of(bore="6.5", rod="3")).result
    assert result["mode"] == "packing"
    assert result["inside_diameter"] == parse_length("2.91")
    assert result["outside_diameter"] == parse_length("6.6")


@pytest.mark.parametrize(
    ("depth", "count", "proud"),
    [("3.1", 4, "0.075"), ("3.175", 4, "0"), ("2.6", 3, "-0.21875"), ("0.7", 1, "0.09375")],
)
def test_stack_fills_the_cavity_without_keeping_it_open(inputs_of, depth, count, proud) -> None:
    """As many of 1/32 in as fill the depth, unless they stand more than 20 % over it."""
    stack = compute(inputs_of(bore="6.5", rod="3", seat_depth=depth)).result["stack"]
    assert stack["count"] == count
    assert Decimal(stack["proud"]) / 1_000_000 == Decimal(proud)
    assert stack["height"] == count * 2 * INCH_64TH


def test_stack_that_leaves_room_says_so(inputs_of) -> None:
    """Where one more would not let it close, the room left is named."""
    answer = compute(inputs_of(bore="6.5", rod="3", seat_depth="2.6"))
    assert any("leave 0.219 mm of the cavity free" in warning for warning in answer.warnings)


def test_one_sheet_too_thick_for_the_cavity_is_named(inputs_of) -> None:
    """1 mm in a cavity 0.5 mm deep is too thick, however few there are."""
    answer = compute(inputs_of(bore="6.5", rod="3", seat_depth="0.5", thickness="1"))
    assert answer.result["stack"]["count"] == 1
    assert any("already too thick" in warning for warning in answer.warnings)


def test_flat_washer_lies_in_its_seat_and_is_squeezed(inputs_of) -> None:
    """6.4 in a seat of 6.5, hole 2.1 over a tube of 2, and 0.85 / (1 - 15 %) = 1 mm thick."""
    result = compute(inputs_of(mode="washer", bore="6.5", rod="2", seat_depth="0.85")).result
    assert result["outside_diameter"] == parse_length("6.4")
    assert result["inside_diameter"] == parse_length("2.1")
    assert result["thickness"] == parse_length("1")
    assert result["stack"] is None


def test_bore_alone_is_a_disc(inputs_of) -> None:
    """With nothing going through, a disc without a hole, and no punch for one."""
    result = compute(inputs_of(bore="8")).result
    assert result["mode"] == "washer"
    assert result["inside_diameter"] is None
    assert result["inside_punch"] is None
    assert result["thickness"] is None


@pytest.mark.parametrize(
    ("thickness", "said"),
    [("0.8", "not squeezed"), ("1.1", "more than a quarter"), ("0.95", None)],
)
def test_sheet_in_hand_is_held_against_the_seat(inputs_of, thickness, said) -> None:
    """In a seat 0.8 mm deep, 0.8 mm leaks and 1.1 mm keeps it open; 0.95 mm is well."""
    warnings = compute(inputs_of(bore="8", seat_depth="0.8", thickness=thickness)).warnings
    found = [warning for warning in warnings if "seat" in warning and "punch" not in warning]
    assert bool(found) is (said is not None)
    assert said is None or said in found[0]


def test_head_washer_is_a_hair_over_its_backing_washer(inputs_of) -> None:
    """8.2 mm takes 8.3 mm, 0.635 mm thick, its hole under 1/16 in; 21/64 in is near."""
    result = compute(inputs_of(backing_washer="8.2")).result
    assert result["mode"] == "head_washer"
    assert result["outside_diameter"] == parse_length("8.3")
    assert result["thickness"] == parse_length("0.025 in")
    assert result["inside_diameter"] == parse_length("1/16 in") - 100_000
    assert result["known_size"] == {
        "diameter": 21 * INCH_64TH,
        "called": "21/64 in",
        "difference": 34_375,
        "near_enough": True,
    }


def test_head_washer_that_does_not_reach_the_wall_leaks(inputs_of) -> None:
    """8.3 mm in a bore of 8.4 is warned of; in one of 8.25 it is not."""
    leaking = compute(inputs_of(backing_washer="8.2", barrel_bore="8.4")).warnings
    assert any("would leak" in warning for warning in leaking)
    sealing = compute(inputs_of(backing_washer="8.2", barrel_bore="8.25")).warnings
    assert not any("leak" in warning for warning in sealing)


def test_sheet_of_a_32nd_is_too_thick_for_a_head(inputs_of) -> None:
    """1/32 in is thicker than is best, and is said to be; 0.025 in is not."""
    thick = compute(inputs_of(backing_washer="8.2", thickness="1/32 in")).warnings
    assert any("thicker than is best" in warning for warning in thick)
    assert not compute(inputs_of(backing_washer="8.2", thickness="0.025 in")).warnings


def test_cork_has_its_own_oversize_by_setting(inputs_of) -> None:
    """Cork is turned 0.15 mm over the bore, or what the workshop sets; its hole is under size."""
    result = compute(inputs_of(bore="8", rod="2.8", material="cork")).result
    assert result["outside_diameter"] == parse_length("8.15")
    assert result["inside_diameter"] == parse_length("2.7")
    changed = inputs_of(
        bore="8", rod="2.8", material="cork", changed_settings={"gasket.cork_oversize": 250_000}
    )
    assert compute(changed).result["outside_diameter"] == parse_length("8.25")
    assert "gasket.cork_oversize" in changed.settings_read


def test_nearest_punch_is_of_the_workshops_own(inputs_of) -> None:
    """Of 8, 8.4 and 9 mm the nearest to 8.3 is 8.4; what is far is warned of."""
    punches = {"gasket.punches": (8_000_000, 8_400_000, 9_000_000)}
    answer = compute(inputs_of(backing_washer="8.2", changed_settings=punches))
    assert answer.result["outside_punch"] == {
        "diameter": 8_400_000,
        "called": "8.4 mm",
        "difference": 100_000,
        "near_enough": True,
    }
    far = compute(inputs_of(backing_washer="9.3", changed_settings=punches))
    assert far.result["outside_punch"]["difference"] == -400_000
    assert any("smaller, and what it cuts leaks" in warning for warning in far.warnings)


def test_of_two_equally_near_punches_the_one_that_seals_is_named(inputs_of) -> None:
    """8.2 and 8.4 are equally far from 8.3: 8.4 is named, as 8.2 cuts a washer that leaks."""
    punches = {"gasket.punches": (8_400_000, 8_200_000)}
    result = compute(inputs_of(backing_washer="8.2", changed_settings=punches)).result
    assert result["outside_punch"]["diameter"] == 8_400_000
    assert result["outside_punch"]["near_enough"]


def test_no_punches_are_no_answer_but_a_hint(inputs_of) -> None:
    """An empty list names none and says where to list them."""
    answer = compute(inputs_of(bore="8", rod="3", changed_settings={"gasket.punches": ()}))
    assert answer.result["outside_punch"] is None
    assert any("gasket.punches" in warning for warning in answer.warnings)


def test_what_a_case_does_not_use_is_named(inputs_of) -> None:
    """With the case named, readings of another case are set aside aloud."""
    answer = compute(inputs_of(mode="head_washer", backing_washer="8.2", bore="6", rod="3"))
    assert answer.result["mode"] == "head_washer"
    unused = [warning for warning in answer.warnings if "is not used" in warning]
    assert [warning.split()[0] for warning in unused] == ["bore", "rod"]


@pytest.mark.parametrize(
    ("material", "word"),
    [("latex", "allergy"), ("cork", "Melted wax"), ("silicone", "swell"), ("epdm", "swell")],
)
def test_materials_bring_their_cautions(inputs_of, material, word) -> None:
    """What can hurt or spoil is said for the material, and safety sheets come first."""
    cautions = compute(inputs_of(bore="6", rod="3", material=material)).cautions
    assert any(word in caution for caution in cautions)
    assert any("safety sheets" in caution for caution in cautions)
