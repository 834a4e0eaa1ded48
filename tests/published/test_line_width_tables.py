"""Line widths against the published Japanese table and the working Western figures."""

from __future__ import annotations

import pytest

from sparewell.plugin import Inputs, parse_length
from sparewell_nibs.calculator import LINE_WIDTH_CALCULATOR
from sparewell_nibs.widths import JAPANESE_TABLE

# Source: a Japanese public table, lines measured at 50 g and 60°; millimetres.
JAPANESE = (
    ("UEF", "0.18", "0.24"),
    ("EF", "0.24", "0.28"),
    ("F", "0.28", "0.34"),
    ("MF", "0.32", "0.38"),
    ("M", "0.34", "0.44"),
    ("B", "0.44", "0.54"),
    ("BB", "0.66", "0.86"),
)

# Source: common practice, no source: no measured table of Western grades is known; millimetres.
WESTERN = (
    ("EF", "0.35", "0.50"),
    ("F", "0.45", "0.65"),
    ("M", "0.60", "0.85"),
    ("B", "0.80", "1.10"),
    ("BB", "1.0", None),
)


def sets(width_nanometres: int) -> dict[str, list[str]]:
    """Return both sets for a width."""
    settings = {setting.name: setting.default for setting in LINE_WIDTH_CALCULATOR.settings}
    inputs = Inputs({"width": width_nanometres}, spreads={}, settings=settings)
    return dict(LINE_WIDTH_CALCULATOR.compute(inputs).result)


@pytest.mark.parametrize(
    ("which", "grade", "low", "high"),
    [("japanese", *row) for row in JAPANESE] + [("western", *row) for row in WESTERN],
)
def test_each_grade_reaches_exactly_as_far_as_printed(which, grade, low, high) -> None:
    """Both printed bounds are inside, a nanometre beyond either is not; one has no end."""
    assert grade in sets(parse_length(low))[which]
    assert grade not in sets(parse_length(low) - 1)[which]
    if high is None:
        assert grade in sets(parse_length("20"))[which]
    else:
        assert grade in sets(parse_length(high))[which]
        assert grade not in sets(parse_length(high) + 1)[which]


def test_the_served_table_is_the_printed_one() -> None:
    """Every row of the size table has the printed figures, in the printed order."""
    rows = [(row["size"], row["width_min"], row["width_max"]) for row in JAPANESE_TABLE.rows]
    assert rows == [(grade, parse_length(low), parse_length(high)) for grade, low, high in JAPANESE]


def test_a_western_fine_is_about_a_japanese_medium_or_wider() -> None:
    """Source: general practice: a Japanese medium is about a Western fine; the ranges meet."""
    assert "F" in sets(parse_length("0.45"))["western"]
    assert "M" in sets(parse_length("0.44"))["japanese"]
    assert "F" in sets(parse_length("0.5"))["western"]
    assert not {"UEF", "EF", "F"} & set(sets(parse_length("0.5"))["japanese"])
