"""Substitutes, larger sizes, other ways, and what a small error would do."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.plugin import parse_length
from sparewell_sacs.calculator import compute


def sizes(entries) -> list[Decimal]:
    """Return the sizes of a list of entries."""
    return [entry["size"] for entry in entries]


def test_substitutes_are_the_next_half_and_whole_below(inputs_of, sample) -> None:
    """Below 15½ come 15 and 14½, each with its stretch."""
    entries = compute(inputs_of(**sample)).result["substitutes"]
    assert sizes(entries) == [Decimal(15), Decimal("14.5")]
    assert [entry["stretch_percent"] for entry in entries] == [Decimal("26.7"), Decimal("31.8")]


def test_substitutes_stretched_too_far_are_left_out(inputs_of) -> None:
    """Nothing above 35 % is offered as a substitute: common practice, no source."""
    # On 5.9 mm a 13½ is stretched 32.4 % and a 13 38.5 %: derived here.
    result = compute(inputs_of(barrel_bore="7.4", bar_height="0.9", nipple_diameter="5.9")).result
    assert result["half_size"] == 14
    assert sizes(result["substitutes"]) == [Decimal("13.5")]


def test_larger_sizes_that_still_grip_are_also_possible(inputs_of) -> None:
    """On 6.4 mm in a wide barrel, 16½ to 17½ keep 5 % of stretch and an 18 does not (derived)."""
    result = compute(inputs_of(barrel_bore="9.4", bar_height="0.9", nipple_diameter="6.4")).result
    assert result["half_size"] == 16
    assert sizes(result["also_possible"]) == [Decimal("16.5"), Decimal(17), Decimal("17.5")]


def test_larger_sizes_stop_where_the_barrel_does(inputs_of) -> None:
    """A barrel of 17.1 lets the list end at 17."""
    result = compute(inputs_of(barrel_bore="8.6", bar_height="0.9", nipple_diameter="6.4")).result
    assert sizes(result["also_possible"]) == [Decimal("16.5"), Decimal(17)]


def test_nothing_larger_where_the_barrel_limits(inputs_of, sample) -> None:
    """Where the barrel is the limit, no larger size is possible."""
    assert compute(inputs_of(**sample)).result["also_possible"] == []


def test_a_tight_whole_size_prefers_the_half_above(inputs_of) -> None:
    """Between 30 and 35 % the next half size up is preferred where the barrel takes it."""
    pen = {"barrel_bore": "7.6", "bar_height": "0.9", "nipple_diameter": "6.1"}
    answer = compute(inputs_of(**pen))
    assert Decimal(30) < answer.result["stretch_percent"]["nominal"] <= Decimal(35)
    assert any("tight" in w and "Prefer the 14½" in w for w in answer.warnings)


def test_a_stiff_material_is_tight_sooner(inputs_of, sample) -> None:
    """26.7 % is acceptable in latex and tight in silicone and PVC: common practice, no source."""
    grips = {
        material: compute(inputs_of(**sample, material=material)).result["grip"]
        for material in ("latex", "silicone", "pvc")
    }
    assert grips == {"latex": "acceptable", "silicone": "stiff", "pvc": "stiff"}


def test_a_loose_sac_can_be_whipped(inputs_of, sample) -> None:
    """An 18 tried in on 6.4 mm is stretched 2.5 %: it slides, and thread or a sleeve helps."""
    result = compute(inputs_of(**sample, try_in=Decimal(18))).result
    assert result["grip"] == "loose"
    assert {"whip_with_thread", "sleeve_the_nipple"} <= {
        entry["do"] for entry in result["alternatives"]
    }


def test_bore_moves_the_answer(inputs_of, sample) -> None:
    """0.1 mm less bore makes the 15½ a 15, and says to measure 10 mm or deeper."""
    entries = {e["reading"]: e for e in compute(inputs_of(**sample)).result["sensitivity"]}
    bore = entries["barrel_bore"]
    assert bore["change"] == parse_length("0.1")
    assert bore["less"] == {"size": 15, "half_size": Decimal(15)}
    assert bore["moves"] is True
    assert "0.1 mm on the bore moves the answer from 15½ to 15" in bore["why"]
    assert "measure again, 10 mm or deeper" in bore["why"]
    assert entries["nipple_diameter"]["moves"] is False


def test_spread_of_a_reading_replaces_the_usual_uncertainty(inputs_of, sample) -> None:
    """A bore good to 0.02 mm is varied by that, and then the answer stands."""
    inputs = inputs_of(**sample, spreads={"barrel_bore": "0.02 mm"})
    entries = {e["reading"]: e for e in compute(inputs).result["sensitivity"]}
    assert entries["barrel_bore"]["change"] == parse_length("0.02")
    assert entries["barrel_bore"]["moves"] is False


@pytest.mark.parametrize("bar", ["0.6", "0.74", "0.8", "0.85", "0.9", "0.95", "1.0"])
@pytest.mark.parametrize("rule", ["twice", "once"])
def test_what_is_foretold_is_what_is_said_then(inputs_of, sample, bar, rule) -> None:
    """The answer foretold for a bar 0.1 mm lower or higher is the answer for that bar."""
    pen = {**sample, "bar_rule": rule}
    entries = compute(inputs_of(**{**pen, "bar_height": bar})).result["sensitivity"]
    told = {entry["reading"]: entry for entry in entries}["bar_height"]
    height = parse_length(bar)
    for way, change in (("less", -100_000), ("more", 100_000)):
        then = compute(inputs_of(**{**pen, "bar_height": height + change})).result
        assert told[way] == {"size": then["size"], "half_size": then["half_size"]}


@pytest.mark.parametrize(
    ("pen", "reading"),
    [
        ({"guard_bore": "7", "nipple_diameter": "5.6"}, "guard_bore"),
        ({"barrel_bore": "9", "barrel_bore_tail": "8", "nipple_diameter": "6"}, "barrel_bore_tail"),
        (
            {"barrel_bore": "8", "bar_thickness": "0.5", "bar_width": "3", "nipple_diameter": "6"},
            "bar_thickness",
        ),
        ({"barrel_bore": "8", "ring_wire": "1", "nipple_diameter": "6"}, "ring_wire"),
    ],
)
def test_the_reading_that_governs_is_varied(inputs_of, pen, reading) -> None:
    """The sensitivity names the reading that was used, not the one that might have been."""
    entries = compute(inputs_of(**pen)).result["sensitivity"]
    assert reading in {entry["reading"] for entry in entries}


def test_an_error_that_leaves_nothing_is_said(inputs_of) -> None:
    """Where a little less bore leaves no room at all, that side is null and said so."""
    entries = compute(
        inputs_of(barrel_bore="1.85", bar_height="0.9", nipple_diameter="1.7")
    ).result["sensitivity"]
    bore = entries[0]
    assert bore["less"] is None
    assert "nothing would go in" in bore["why"]
