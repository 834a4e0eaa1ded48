"""Which standard sizes a measured ring could be."""

from __future__ import annotations

import pytest

from sparewell.plugin import ImpossibleInput, parse_length
from sparewell_o_rings.sizes import STANDARD_RINGS


def names(sizes) -> list[str]:
    """Return sizes with their standards."""
    return [f"{size['standard']} {size['size']}" for size in sizes]


def test_nearest_first_and_as568_before_its_twin(identity_of) -> None:
    """2.9 x 1.78 mm is AS568 -006 and ISO 3601-1 006 alike, then the metric ring beside them."""
    found = names(identity_of(inside_diameter="2.9", cross_section="1.78", spread="0.02"))
    assert found[:3] == ["AS568 -006", "ISO 3601-1 006", "ISO 3601-1 A0028"]


def test_a_wide_spread_adds_sizes_and_never_takes_one_away(identity_of) -> None:
    """What a ring could be only grows with the spread of its reading."""
    before: set[str] = set()
    for spread in ("0", "0.05", "0.2", "0.5"):
        found = names(identity_of(inside_diameter="4.5", cross_section="1.8", spread=spread))
        assert before <= set(found)
        before = set(found)
    assert len(before) == 10


@pytest.mark.parametrize(
    ("inside", "found"),
    [("3.0226", True), ("3.022601", False), ("2.7686", True), ("2.768599", False)],
)
def test_tolerance_and_spread_bound_exactly(identity_of, inside, found) -> None:
    """Without spread, -006 reaches just 0.127 mm either way of 2.8956 mm."""
    sizes = names(identity_of(inside_diameter=inside, cross_section="1.778", spread="0"))
    assert ("AS568 -006" in sizes) is found


def test_spread_is_added_to_the_tolerance(identity_of) -> None:
    """With 0.05 mm of spread, -006 reaches 0.05 mm further, and its section too."""
    at = {"cross_section": "1.9042", "spread": "0.05"}
    assert "AS568 -006" in names(identity_of(inside_diameter="3.0726", **at))
    assert "AS568 -006" not in names(identity_of(inside_diameter="3.0727", **at))
    thick = {"cross_section": "1.9043", "spread": "0.05"}
    assert "AS568 -006" not in names(identity_of(inside_diameter="3.0726", **thick))


def test_every_standard_ring_is_itself(identity_of) -> None:
    """Each row of each table, measured exactly, is found, and no other is nearer in print."""
    for ring in STANDARD_RINGS[::23]:
        sizes = identity_of(
            inside_diameter=ring.inside_nanometres,
            cross_section=ring.section_nanometres,
            spread=0,
        )
        assert ring.name in names(sizes)
        first = sizes[0]
        assert abs(first["inside_diameter"] - ring.inside_nanometres) <= 5_000
        assert abs(first["cross_section"] - ring.section_nanometres) <= 5_000


def test_outside_diameter_serves_as_well(identity_of) -> None:
    """6.46 mm outside with a section of 1.78 mm is 2.9 mm inside, with a wider spread."""
    sizes = identity_of(outside_diameter="6.46", cross_section="1.78", spread="0.02")
    assert names(sizes)[0] == "AS568 -006"


def test_differences_are_measured_less_standard(identity_of) -> None:
    """A ring 0.1 mm wider than its size says so."""
    sizes = identity_of(inside_diameter="2.9956", cross_section="1.768", spread="0.02")
    size = next(size for size in sizes if size["size"] == "-006")
    assert size["inside_diameter_difference"] == parse_length("0.1")
    assert size["cross_section_difference"] == -parse_length("0.01")


def test_no_size_at_all(identity_of) -> None:
    """5 x 1 mm is in no table."""
    assert identity_of(inside_diameter="5", cross_section="1") == []


@pytest.mark.parametrize(
    ("values", "named"),
    [
        ({"inside_diameter": "3"}, "cross_section"),
        ({"cross_section": "1.78"}, "inside_diameter"),
        (
            {"inside_diameter": "6", "outside_diameter": "3", "cross_section": "1"},
            "outside_diameter",
        ),
        ({"outside_diameter": "3.5", "cross_section": "1.75"}, "cross_section"),
    ],
)
def test_impossible(identity_of, values, named) -> None:
    """What is missing, swapped, or leaves no hole is refused under its name."""
    with pytest.raises(ImpossibleInput) as refusal:
        identity_of(**values)
    assert [name for name, _ in refusal.value.problems] == [named]
