"""What a pen is said to be made of, and what is taken of it as known."""

from __future__ import annotations

import pytest

from sparewell.measure.materials import as_known


@pytest.mark.parametrize(
    ("materials", "known", "has_unknown"),
    [
        (["Ebonite", " vulcanite "], {"hard rubber"}, False),
        (["casein plastic"], {"casein"}, False),
        (["cellulose nitrate", "gold"], {"celluloid", "metal"}, False),
        (["celluloid", "pearly stuff"], {"celluloid"}, True),
        ([], set(), True),
    ],
)
def test_materials_are_known_by_every_name(
    materials: list[str], known: set[str], *, has_unknown: bool
) -> None:
    """Names in use lead to the one the rules know; any other text, or none, is unknown."""
    assert as_known(materials) == (known, has_unknown)
