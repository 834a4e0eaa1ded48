"""The head washers of plunger fillers, as a restorer's public page prints them."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import pytest

from sparewell.plugin import Inputs, parse_length
from sparewell_gaskets.calculator import compute
from sparewell_gaskets.settings import SETTINGS
from sparewell_gaskets.tables import HEAD_WASHERS

# Source: a restorer's public page of questions and answers on plunger fillers: three diameters in
# inches, a hole of 1/16 in, best thickness about 0.025 in, sheet of 1/32 in being too thick. The
# millimetres are the exact inches, rounded half up.
PRINTED = (
    ("9/32 in", "7.14"),
    ("21/64 in", "8.33"),
    ("25/64 in", "9.92"),
)


def hundredths(nanometres: int) -> Decimal:
    """Return millimetres rounded half up to a hundredth, in decimal."""
    return (Decimal(nanometres) / 1_000_000).quantize(Decimal("0.01"), ROUND_HALF_UP)


def head_washer(backing: int) -> dict[str, object]:
    """Return the answer for a backing washer of so many nanometres."""
    settings = {setting.name: setting.default for setting in SETTINGS}
    inputs = Inputs({"backing_washer": backing}, spreads={}, settings=settings)
    return dict(compute(inputs).result)


@pytest.mark.parametrize(("row", "printed"), tuple(zip(HEAD_WASHERS.rows, PRINTED, strict=True)))
def test_table_holds_the_printed_sizes(row, printed) -> None:
    """Each diameter is the printed inches exactly, and the printed millimetres when rounded."""
    called, in_millimetres = printed
    assert row["size"] == called
    assert row["outside_diameter"] == parse_length(called)
    assert hundredths(row["outside_diameter"]) == Decimal(in_millimetres)
    assert hundredths(row["inside_diameter"]) == Decimal("1.59")
    assert hundredths(row["thickness"]) == Decimal("0.64")


@pytest.mark.parametrize(("called", "_millimetres"), PRINTED)
def test_backing_washer_a_hair_under_gives_the_printed_washer(called, _millimetres) -> None:
    """0.1 mm under each printed diameter, exactly that one is named, and a punch for it."""
    result = head_washer(parse_length(called) - 100_000)
    assert result["outside_diameter"] == parse_length(called)
    assert result["known_size"] == {
        "diameter": parse_length(called),
        "called": called,
        "difference": 0,
        "near_enough": True,
    }
    assert result["outside_punch"]["called"] == called
    assert result["inside_diameter"] < parse_length("1/16 in")
    assert hundredths(result["thickness"]) == Decimal("0.64")
    assert result["thickness"] < parse_length("1/32 in")
