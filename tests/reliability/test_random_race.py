"""Eight processes after the same few pieces, over HTTP, with everything that moves a piece.

ASVS 5.0.0 requirement 2.3.4: a thing of limited quantity cannot be booked twice.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from support.runs import Place, run_race

pytestmark = pytest.mark.rest

SEED = 20261125


@pytest.mark.timeout(2400)
@pytest.mark.parametrize(
    "operations", [2_500, pytest.param(50_000, marks=pytest.mark.long)], ids=["short", "long"]
)
def test_nothing_is_promised_twice_in_a_random_race(
    database_url: str, tmp_path: Path, operations: int
) -> None:
    """Every answer is definite, and the ledger is exactly what the clients were told."""
    workers = 1 if database_url.startswith("sqlite") else 2
    place = Place(database_url, tmp_path, workers=workers)
    line = run_race(place, SEED, operations)
    print("\n" + line)
    assert not line.endswith("; 0 pieces lapsed")
