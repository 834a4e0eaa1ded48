"""Material x duty x grease x flush: what is told, and what is refused."""

from __future__ import annotations

import pytest

from sparewell_o_rings.calculator import compute

ROD = {"gland": "rod", "bore": "5.9", "rod": "3", "groove_width": "2.4"}


def rating_of(result, material) -> str:
    """Return the rating of one material."""
    return next(each["rating"] for each in result["materials"] if each["material"] == material)


# Source: elastomer handbooks, general knowledge, not made for pens.
@pytest.mark.parametrize(
    ("duty", "grease", "flush", "ratings"),
    [
        ("static", None, None, {"nbr": "good", "epdm": "very_good", "silicone": "good"}),
        ("static", "none", "none", {"fkm": "good", "epdm": "very_good"}),
        ("moving", None, None, {"nbr": "good", "epdm": "good", "silicone": "poor", "fkm": "good"}),
        ("static", "silicone", None, {"silicone": "no", "nbr": "good", "epdm": "good"}),
        ("static", "petroleum", None, {"epdm": "no", "silicone": "fair", "nbr": "good"}),
        ("static", None, "ammonia", {"fkm": "poor", "nbr": "fair", "epdm": "good"}),
        ("moving", "silicone", "ammonia", {"silicone": "no", "epdm": "good", "fkm": "poor"}),
        ("static", None, "water", {"epdm": "very_good", "nbr": "good"}),
    ],
)
def test_ratings(result_of, duty, grease, flush, ratings) -> None:
    """A material is as good as the worst of what it meets."""
    more = {"grease": grease, "flush": flush}
    result = result_of(
        duty=duty, **ROD, **{name: value for name, value in more.items() if value is not None}
    )
    assert {material: rating_of(result, material) for material in ratings} == ratings


def test_best_material_comes_first(result_of) -> None:
    """With silicone grease and an ammonia flush on a moving rod, EPDM leads and silicone ends."""
    result = result_of(duty="moving", grease="silicone", flush="ammonia", **ROD)
    order = [each["material"] for each in result["materials"]]
    assert (order[0], order[-1]) == ("epdm", "silicone")


def test_silicone_on_a_moving_rod_in_silicone_grease_tells_both(inputs_of) -> None:
    """Both reasons are told, and what to take instead."""
    answer = compute(inputs_of(duty="moving", grease="silicone", material="silicone", **ROD))
    told = answer.warnings[0]
    assert "tears on a moving rod" in told
    assert "swell or soften in silicone grease" in told
    assert "nbr" in told


def test_a_suitable_material_gets_no_warning(inputs_of) -> None:
    """NBR on a moving rod in silicone grease is what one takes."""
    answer = compute(inputs_of(duty="moving", grease="silicone", material="nbr", **ROD))
    assert not any("not for this gland" in warning for warning in answer.warnings)


def test_cautions_follow_the_work(inputs_of) -> None:
    """Ammonia, springs and FKM have their cautions; the safety sheets come last, always."""
    plain = compute(inputs_of(duty="static", material="nbr", **ROD)).cautions
    assert not any("mmonia" in caution or "spring" in caution for caution in plain)
    full = compute(inputs_of(duty="moving", flush="ammonia", material="fkm", **ROD)).cautions
    for word in ("bleach", "spring", "hydrogen fluoride"):
        assert any(word in caution for caution in full), word
    assert plain[-1] == full[-1]
    assert "safety sheets" in full[-1]
