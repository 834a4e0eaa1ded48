"""A weighed fill beside the expected one: what is told, and what is left alone."""

from __future__ import annotations

from decimal import Decimal

import pytest

PNEUMATIC = {
    "system": "pneumatic",
    "air_volume_ml": "4.0",
    "swept_volume_ml": "1.8",
    "sac_volume_ml": "1.3",
    "sac_material": "latex",
}  # takes 1.105 to 1.30
PISTON = {"system": "piston", "swept_volume_ml": "1.5"}  # takes 1.275 to 1.50
PNEUMATIC_ORDER = [
    "technique",
    "sac_too_long_or_stiff",
    "vent",
    "tail_ring",
    "threads",
    "point_seal",
]


def names(answer) -> list[str]:
    """Return the checks in their order."""
    listed = answer.result["checks"]
    assert [one["order"] for one in listed] == list(range(1, len(listed) + 1))
    return [one["check"] for one in listed]


def test_low_pneumatic_fill_lists_technique_first_and_threads_late(answer_of) -> None:
    """Half a millilitre with a new sac: technique, sac, vent, tail ring, threads, in this order."""
    answer = answer_of(**PNEUMATIC, weighed_ml="0.5")
    assert answer.result["verdict"] == "low"
    assert names(answer) == PNEUMATIC_ORDER
    assert any("tail ring" in text for text in answer.result["explained_by"])


@pytest.mark.parametrize("system", ["sac", "piston", "plunger"])
def test_every_other_system_has_checks_of_its_own(answer_of, system) -> None:
    """Each list starts with the technique and names nothing that the system lacks."""
    volume = "sac_volume_ml" if system == "sac" else "swept_volume_ml"
    answer = answer_of(**{"system": system, volume: "1.5", "weighed_ml": "0.3"})
    assert names(answer)[0] == "technique"
    assert "tail_ring" not in names(answer)
    assert answer.result["explained_by"] == [
        "20 % of the sac was emptied." if system == "sac" else "80 % of the sweep was lost."
    ]


@pytest.mark.parametrize(
    ("weighed", "verdict"),
    [
        ("1.275", "as_expected"),
        ("1.4", "as_expected"),
        ("1.5", "as_expected"),
        ("1.26", "inside_error"),
        ("1.245", "inside_error"),
        ("1.2449", "low"),
        ("1.53", "inside_error"),
        ("1.5301", "high"),
        ("0", "low"),
    ],
)
def test_a_difference_inside_the_error_is_ignored(answer_of, weighed, verdict) -> None:
    """Up to and with 0.03 ml outside the range nothing is listed; beyond it something is."""
    answer = answer_of(**PISTON, weighed_ml=weighed)
    assert answer.result["verdict"] == verdict
    assert bool(answer.result["checks"]) == (verdict in {"low", "high"})
    assert bool(answer.result["explained_by"]) == (verdict == "low")


def test_the_error_may_be_given_and_falls_with_the_number_of_fills(answer_of) -> None:
    """Four fills halve the error, so what one fill does not tell, four do."""
    assert answer_of(**PISTON, weighed_ml="1.25").result["verdict"] == "inside_error"
    four = answer_of(**PISTON, weighed_ml="1.25", fills_averaged=4).result
    assert (four["verdict"], four["weighing_error_ml"]) == ("low", Decimal("0.015"))
    rough = answer_of(**PISTON, weighed_ml="1.2", weighing_error_ml="0.1").result
    assert rough["verdict"] == "inside_error"


def test_grams_of_water_are_divided_by_its_density(answer_of) -> None:
    """0.997 g of water is 1.000 ml, and the difference is measured from the range's end."""
    result = answer_of(**PISTON, water_grams="0.997").result
    assert (result["weighed_ml"], result["difference_ml"]) == (1, Decimal("-0.275"))


def test_a_pen_weighed_dry_may_hold_more(answer_of) -> None:
    """From dry, nib and feed take 0.25 to 0.32 ml beside the tank: 1.81 ml is no surprise."""
    assert answer_of(**PISTON, weighed_ml="1.81").result["verdict"] == "high"
    dry = answer_of(**PISTON, weighed_ml="1.81", weighed_from="dry").result
    assert dry["verdict"] == "as_expected"
    assert dry["compared_with_ml"] == {"low": Decimal("1.52"), "high": Decimal("1.82")}


def test_what_the_feed_holds_explains_no_fill(answer_of) -> None:
    """From dry, at least 0.25 ml of 0.85 ml is the feed's: 0.60 of 1.5 ml drawn, 60 % lost."""
    dry = answer_of(**PISTON, weighed_ml="0.85", weighed_from="dry").result
    assert dry["explained_by"] == ["60 % of the sweep was lost."]


def test_without_a_weighed_fill_nothing_is_told(answer_of) -> None:
    """Only the expected fill is answered, and an error without a fill is remarked upon."""
    answer = answer_of(**PISTON, weighing_error_ml="0.1")
    assert answer.result["verdict"] is None
    assert answer.result["weighed_ml"] is None
    assert answer.result["checks"] == []
    assert any("no weighed fill" in warning for warning in answer.warnings)
