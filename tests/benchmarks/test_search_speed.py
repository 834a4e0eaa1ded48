"""How fast the nearest pieces are found among more and more lots; nothing is judged.

Run with `pytest -n 0 -m benchmark -s tests/benchmarks`, and with `-m long` for a million lots. The
floor of a search is its own statement, sent through the driver alone; its growth is what it takes
beside the same search among ten thousand lots.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from conftest import NOW
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.extend.declarations import Envelope, Range
from sparewell.extend.host import Declarations
from sparewell.fitting.judging import Judge
from sparewell.fitting.operations import prepare
from sparewell.lots import search
from sparewell.work import Actor, Work
from support.many_lots import fill, measured, nominal
from support.timing import bare, beside, sent_by, show

pytestmark = pytest.mark.benchmark
LEAD = "outside_diameter"
SIZES = [(10_000, 100_000), pytest.param((10_000, 1_000_000), marks=pytest.mark.long)]
# What a sac fit of an ordinary pen asks for.
ENVELOPE = Envelope("sac", 5_953_125, {LEAD: Range(4_923_077, 6_200_000)})
READINGS = {"barrel_bore": 8_000_000, "bar_height": 900_000, "nipple_diameter": 6_400_000}


@pytest.mark.timeout(1800)
@pytest.mark.parametrize("sizes", SIZES, ids=["thousands", "million"])
@pytest.mark.parametrize("said", [measured, nominal])
def test_search_against_its_own_statement(
    database: Database,
    declared: Declarations,
    said: Callable[[int], dict[str, object]],
    sizes: tuple[int, ...],
) -> None:
    """The search of a fit among ten thousand lots, and among many more, with its growth."""
    kept = 0
    least = None
    for rows in sizes:
        fill(database, rows, said, kept)
        kept = rows
        with read(database) as session:
            work = Work(session, NOW, Actor("benchmark"), declared)
            judge = Judge(work, prepare(work, "sac", READINGS, {}))

            def find() -> object:
                suits = judge.suits("sac")  # noqa: B023 - asked before the next round
                return search.nearest_seen(session, ENVELOPE, LEAD, suits)

            find()
            seconds, floor = beside(find, bare(session, *sent_by(database, find)))
        what = f"search, {database.url.get_backend_name()}, {said.__name__}, {rows} lots"
        show(what, seconds, floor, "its own statement")
        least = least or seconds
        show(f"{what}: growth", seconds, least, "that among the fewest")
