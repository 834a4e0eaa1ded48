"""How long an evening takes, as a ratio to the integer programme alone that stands for it.

Run with `pytest -n 0 -m benchmark -s --part=whole tests/benchmarks`; 2,000 jobs with `-m long`.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.extend.host import Declarations
from sparewell.plans.pooling import Terms
from sparewell.tonight import evening as evenings
from sparewell.tonight.evening import evening
from sparewell.tonight.solver import best_share
from sparewell.work import Actor, Work
from support.api import Api
from support.many_lots import NOW, add

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(900)]

LOTS = 5_000
BORES = 40
PIECES = 5
NEEDS = 2


def _pieces(wanted_sizes: int) -> Iterator[dict[str, object]]:
    """Yield bags of five; so many are of the sizes that pens want, the others are larger."""
    for number in range(LOTS):
        is_wanted = number < wanted_sizes
        size = 5_000_000 + number * 7919 % 2_500_000 if is_wanted else 12_000_000 + number
        yield {
            "measured": {"outside_diameter": "as filled"},
            "outside_diameter_nanometres": size,
            "in_hand": PIECES,
            "material": "latex",
        }


def _jobs(api: Api, count: int) -> None:
    for number in range(count):
        step = number * 7 % BORES
        body = {"barrel_bore": f"{7.4 + step * 0.05:.2f} mm", "nipple_diameter": "6.0 mm"}
        job = api.job(**body)
        need = {"kind": "sac", "calculator": "sac", "seals_where": "the other end"}
        assert api.post(f"/v1/jobs/{job}/needs", need).status == 201


@pytest.mark.parametrize("share", ["three in four", "plenty"])
@pytest.mark.parametrize(
    ("jobs", "seconds"), [(200, 5.0), pytest.param(2_000, 60.0, marks=pytest.mark.long)]
)
def test_an_evening_of_many_jobs(
    api: Api,
    database: Database,
    declared: Declarations,
    monkeypatch: pytest.MonkeyPatch,
    jobs: int,
    seconds: float,
    share: str,
) -> None:
    """The seconds of an evening with two needs a job, its ratio to the programme, and the gap."""
    add(database, _pieces(LOTS if share == "plenty" else jobs * NEEDS * 3 // 4 // PIECES))
    _jobs(api, jobs)
    took: dict[str, Any] = {}

    def timed(*arguments: Any) -> Any:
        start = time.perf_counter()
        chosen = best_share(*arguments)
        took["programme"] = time.perf_counter() - start
        return chosen

    monkeypatch.setattr(evenings, "best_share", timed)
    with read(database) as session:
        work = Work(session, NOW, Actor("bench"), declared)
        start = time.perf_counter()
        found = evening(work, Terms(), seconds=seconds)
        whole = time.perf_counter() - start
    told: Mapping[str, Any] = {
        "finishable": len(found.finishable),
        "columns": sum(
            len(w.options) for a in found.table.workshop.askings for y in a.ways for w in y
        ),
        "proven": found.chosen.is_proven,
        "gap": found.chosen.gap,
    }
    print(  # noqa: T201 - the figures are the point
        f"\n{jobs} jobs, pieces for {share}, {LOTS:,} lots ({database.url.get_backend_name()}): "
        f"{whole:.2f} s, "
        f"{whole / took['programme']:.1f} x the programme alone; {told}"
    )
