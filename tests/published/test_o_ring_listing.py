"""All 349 standard sizes against an independent listing of ISO 3601-1 class A.

Source: PyPI `bd-warehouse` 0.4.0 (Apache-2.0), data/o-ring_parameters.csv. Only its data file is
read; `.ci/oracles.txt` installs it without its dependencies, and elsewhere it may be missing.
"""

from __future__ import annotations

import csv
import os
from decimal import ROUND_HALF_UP, Decimal
from importlib import metadata

import pytest

from sparewell_o_rings.plugin import size_tables

CENT = Decimal("0.01")
COLUMNS = (
    "inside_diameter",
    "cross_section",
    "inside_diameter_tolerance",
    "cross_section_tolerance",
)
FILE = "bd_warehouse/data/o-ring_parameters.csv"


def listing() -> dict[str, tuple[Decimal, ...]]:
    """Return inside diameter, cross-section and their tolerances by size, in millimetres."""
    try:
        files = metadata.files("bd-warehouse") or []
    except metadata.PackageNotFoundError:
        if os.environ.get("CI") == "true":
            pytest.fail("CI lacks the oracle: .ci/oracles.txt installs it")
        pytest.skip("the independent listing is not installed: .ci/oracles.txt names it")
    (found,) = [file for file in files if str(file) == FILE]
    with open(found.locate(), encoding="utf-8-sig", newline="") as lines:  # noqa: PTH123
        return {
            row["Size"]: tuple(Decimal(text) for name, text in row.items() if name != "Size")
            for row in csv.DictReader(lines)
        }


def rounded(nanometres: int) -> Decimal:
    """Return millimetres with two decimals, half up, as the tables print them."""
    return (Decimal(nanometres) / 1_000_000).quantize(CENT, ROUND_HALF_UP)


def test_every_standard_size_agrees_with_the_listing() -> None:
    """The 349 rows agree in both dimensions and both tolerances, to the printed hundredth."""
    theirs = listing()
    (table,) = [table for table in size_tables() if table.name == "as568"]
    ours = {str(row["size"]).lstrip("-"): row for row in table.rows}
    assert len(theirs) == 349
    for size, figures in theirs.items():
        assert tuple(rounded(int(str(ours[size][name]))) for name in COLUMNS) == tuple(
            figure.quantize(CENT, ROUND_HALF_UP) for figure in figures
        ), size


def test_every_inch_size_of_iso_3601_agrees_with_the_listing() -> None:
    """The 349 inch sizes of ISO 3601-1 agree too, with their class A tolerances."""
    theirs = listing()
    (table,) = [table for table in size_tables() if table.name == "iso3601_1"]
    ours = {str(row["size"]): row for row in table.rows}
    for size, figures in theirs.items():
        assert tuple(rounded(int(str(ours[size][name]))) for name in COLUMNS) == tuple(
            figure.quantize(CENT, ROUND_HALF_UP) for figure in figures
        ), size
