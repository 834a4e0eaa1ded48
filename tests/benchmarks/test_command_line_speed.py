"""How long the overview of the command line takes, beside importing click. Nothing is judged.

Run with `pytest -m benchmark -s tests/benchmarks`.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import sysconfig
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.benchmark
ROUNDS = 30
PROGRAM = Path(sysconfig.get_path("scripts")) / "sparewell"


def seconds_of(*command: str | Path) -> float:
    """Return how long a process takes from its start to its end."""
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def test_the_overview_against_importing_click() -> None:
    """`sparewell --help` against a Python that imports click, each the median of many, in turns."""
    rounds = [
        (seconds_of(PROGRAM, "--help"), seconds_of(sys.executable, "-c", "import click"))
        for _ in range(ROUNDS)
    ]
    overview, floor = (statistics.median(times) for times in zip(*rounds, strict=True))
    print(  # noqa: T201 - the figures are the point
        f"\n--help: {overview * 1000:.1f} ms, {overview / floor:.2f} x importing click "
        f"({floor * 1000:.1f} ms)"
    )
