"""Washers from sheet, against counts made in other ways: one by one, and by geometry."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewell.plugin import parse_length
from sparewell_gaskets.calculator import compute
from sparewell_gaskets.layout import SheetToCut, square_layout, staggered_layout

SHEETS = st.builds(
    SheetToCut,
    length_nanometres=st.integers(1, 150_000_000),
    width_nanometres=st.integers(1, 90_000_000),
    spacing_nanometres=st.integers(0, 3_000_000),
    edge_nanometres=st.integers(0, 4_000_000),
)
OUTSIDES = st.integers(4_000_000, 30_000_000)


def one_by_one(length: int, width: int, outside: int, spacing: int, *, staggered: bool) -> int:
    """Set washers one after the other, left to right and row after row, until none goes on."""
    with localcontext() as context:
        context.prec = 60
        pitch = Decimal(outside + spacing)
        between = pitch * Decimal(3).sqrt() / 2 if staggered else pitch
        count, row, bottom = 0, 0, Decimal(outside)
        while bottom <= width:
            right = Decimal(outside) + (pitch / 2 if staggered and row % 2 else 0)
            while right <= length:
                count += 1
                right += pitch
            row += 1
            bottom += between
        return count


def usable(sheet: SheetToCut) -> tuple[int, int]:
    """Return what is inside the edges."""
    return sheet.usable_length_nanometres, sheet.usable_width_nanometres


@given(sheet=SHEETS, outside=OUTSIDES)
@settings(deadline=None)
def test_square_count_is_that_of_setting_them_one_by_one(sheet, outside) -> None:
    """The formula and the count agree, whatever the sheet."""
    expected = one_by_one(*usable(sheet), outside, sheet.spacing_nanometres, staggered=False)
    assert square_layout(sheet, outside).count == expected


@given(sheet=SHEETS, outside=OUTSIDES)
@settings(deadline=None)
def test_staggered_count_is_the_better_of_both_ways(sheet, outside) -> None:
    """Counted one by one along the length and along the width, the larger is the answer."""
    length, width = usable(sheet)
    web = sheet.spacing_nanometres
    along = one_by_one(length, width, outside, web, staggered=True)
    across = one_by_one(width, length, outside, web, staggered=True)
    layout = staggered_layout(sheet, outside)
    assert layout.count == max(along, across)
    assert layout.along_length is (along >= across)


@given(sheet=SHEETS, outside=OUTSIDES, is_square=st.booleans())
@settings(deadline=None)
def test_every_washer_lies_on_the_sheet_and_clear_of_the_others(sheet, outside, is_square) -> None:
    """By geometry: each is inside the edges, any two are a web apart, and all are counted."""
    layout = (square_layout if is_square else staggered_layout)(sheet, outside)
    centres = list(layout.centres())
    assert len(centres) == layout.count
    row, across = usable(sheet) if layout.along_length else reversed(usable(sheet))
    radius, trace = Fraction(outside, 2), Fraction(1, 1000)
    for x, y in centres:
        assert radius <= x <= row - radius
        assert radius <= y <= across - radius + trace
    apart = (outside + sheet.spacing_nanometres) ** 2
    for (x, y), (next_x, next_y) in pairwise(centres):
        assert (x - next_x) ** 2 + (y - next_y) ** 2 >= apart
    nearby = sorted(centres)[:150]
    for number, (x, y) in enumerate(nearby):
        for other_x, other_y in nearby[:number]:
            assert (x - other_x) ** 2 + (y - other_y) ** 2 >= apart


@given(sheet=SHEETS, outside=OUTSIDES)
@settings(deadline=None)
def test_a_larger_sheet_never_gives_fewer(sheet, outside) -> None:
    """Longer and wider by anything, both counts stay or grow; turned round they are the same."""
    longer = SheetToCut(
        sheet.length_nanometres + 1_234_567,
        sheet.width_nanometres + 765_432,
        sheet.spacing_nanometres,
        sheet.edge_nanometres,
    )
    turned = SheetToCut(
        sheet.width_nanometres,
        sheet.length_nanometres,
        sheet.spacing_nanometres,
        sheet.edge_nanometres,
    )
    for layout in (square_layout, staggered_layout):
        assert layout(longer, outside).count >= layout(sheet, outside).count
        assert layout(turned, outside).count == layout(sheet, outside).count


@pytest.mark.parametrize(
    ("length", "width", "outside", "spacing", "square", "staggered"),
    [
        # Counted by hand: 10 x 5; and 6 rows of 10 a distance of 0.866 x 10 mm apart.
        ("100", "50", "10", "0", 50, 50),
        ("105", "53.4", "10", "0", 50, 60),
        ("105", "53.3", "10", "0", 50, 50),
        ("100", "50", "8.334375", "1", 50, 60),
        ("10", "10", "10", "0", 1, 1),
        ("9.999999", "10", "10", "0", 0, 0),
        # A strip hardly wider than the washer: one row, however it is laid.
        ("100", "11", "10", "0", 10, 10),
        # With a web, none is needed behind the last: n x 10 + (n - 1) x 1 <= 109.
        ("109", "10", "10", "1", 10, 10),
        ("108.9", "10", "10", "1", 9, 9),
    ],
)
def test_counts_known_by_hand(
    inputs_of, length, width, outside, spacing, square, staggered
) -> None:
    """Sheets whose counts were worked with pencil and paper."""
    result = compute(
        inputs_of(
            outside_diameter=outside,
            inside_diameter="1",
            sheet_length=length,
            sheet_width=width,
            spacing=spacing,
        )
    ).result
    assert (result["count_square"], result["count_staggered"]) == (square, staggered)
    assert result["best"] == ("staggered" if staggered > square else "square")
    assert result["best_count"] == max(square, staggered)


def test_waste_counts_the_holes(inputs_of) -> None:
    """One washer of 10 mm with a hole of 5 on 10 x 10 mm: 1 - 75 pi / 400 is 41.10 % waste."""
    sheet = {"sheet_length": "10", "sheet_width": "10"}
    ring = compute(inputs_of(outside_diameter="10", inside_diameter="5", **sheet)).result
    assert ring["waste_percent"] == Decimal("41.10")
    disc = compute(inputs_of(outside_diameter="10", **sheet)).result
    assert disc["waste_percent"] == Decimal("21.46")


def test_nothing_that_goes_on_the_sheet_is_said(inputs_of) -> None:
    """A washer wider than the strip: none, all waste, and a warning rather than a refusal."""
    answer = compute(inputs_of(outside_diameter="10", sheet_length="100", sheet_width="9"))
    assert answer.result["best_count"] == 0
    assert answer.result["waste_percent"] == 100
    assert any("can be cut" in warning for warning in answer.warnings)


def test_a_sized_washer_can_be_counted_on_a_sheet_too(inputs_of) -> None:
    """A head washer of 8.3 mm with a web of 1 mm: 10 x 5 on 93 x 46.5 mm."""
    result = compute(
        inputs_of(backing_washer="8.2", sheet_length="93", sheet_width="46.5", spacing="1")
    ).result
    assert result["count_square"] == 50
    assert compute(inputs_of(backing_washer="8.2")).result["count_square"] is None


def test_web_and_edge_come_from_the_settings_where_they_are_not_given(inputs_of) -> None:
    """The setting's web of 1 mm, and an edge of half a millimetre that leaves room for one."""
    sheet = {"outside_diameter": "10", "sheet_length": "21", "sheet_width": "21"}
    assert compute(inputs_of(**sheet)).result["count_square"] == 4
    edge = {"gasket.sheet_edge": parse_length("0.5")}
    assert compute(inputs_of(**sheet, changed_settings=edge)).result["count_square"] == 1
