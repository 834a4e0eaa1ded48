"""A width is called by a set of grades, Western by settings, Japanese by the published table."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewell.extend.calculation import dump_result
from sparewell.plugin import ImpossibleInput, Inputs
from sparewell_nibs.calculator import LINE_WIDTH_CALCULATOR, compute
from sparewell_nibs.widths import JAPANESE, SETTINGS


@pytest.mark.parametrize(
    ("width", "western", "japanese"),
    [
        ("0.18", [], ["UEF"]),
        ("0.17", [], []),
        ("0.24", [], ["UEF", "EF"]),
        ("0.33", [], ["F", "MF"]),
        ("0.34", [], ["F", "MF", "M"]),
        ("0.35", ["EF"], ["MF", "M"]),
        ("0.5", ["EF", "F"], ["B"]),
        ("0.501", ["F"], ["B"]),
        ("0.6", ["F", "M"], []),
        ("0.82", ["M", "B"], ["BB"]),
        ("1.05", ["B", "BB"], []),
        ("1.1", ["B", "BB"], []),
        ("3", ["BB"], []),
        ("0.02 in", ["F"], ["B"]),
    ],
)
def test_a_width_is_called_by_a_set(answer_of, width, western, japanese) -> None:
    """Bounds count as inside, ranges overlap, and a gap of a table is called by nothing."""
    result = answer_of(width=width).result
    assert result["western"] == western
    assert result["japanese"] == japanese
    assert [one["grade"] for one in result["western_ranges"]] == western
    assert [one["grade"] for one in result["japanese_ranges"]] == japanese
    dump_result(LINE_WIDTH_CALCULATOR.outputs, result)


def test_half_a_millimetre_is_a_western_fine_and_a_broader_japanese_grade(answer_of) -> None:
    """0.5 mm may be called a Western fine; in Japan it is a fine-medium or wider, never a fine."""
    result = answer_of(width="0.5 mm").result
    assert "F" in result["western"]
    codes = [grade.code for grade in JAPANESE]
    assert result["japanese"]
    assert all(codes.index(code) >= codes.index("MF") for code in result["japanese"])


def test_a_spread_widens_the_sets(answer_of) -> None:
    """A reading that may be off is called by every grade it may touch."""
    spread = answer_of(width={"value": "0.45 mm", "spread": "0.02 mm"}).result
    assert (spread["spread"], spread["japanese"]) == (20_000, ["M", "B"])
    assert answer_of(width="0.45").result["japanese"] == ["B"]


def test_a_spread_as_large_as_the_width_is_refused(answer_of) -> None:
    """A width of which nothing is left is no reading."""
    with pytest.raises(ImpossibleInput, match="leaves nothing"):
        answer_of(width={"value": "0.3 mm", "spread": "0.3 mm"})


@pytest.mark.parametrize(
    ("width", "said"),
    [
        ("0.6", "No Japanese grade takes 0.6 mm: it lies between B and BB."),
        ("0.1", "No Western grade takes 0.1 mm: it is finer than EF."),
        ("0.1", "No Japanese grade takes 0.1 mm: it is finer than UEF."),
        ("0.9", "No Japanese grade takes 0.9 mm: it is broader than BB."),
    ],
)
def test_a_width_outside_every_grade_is_placed(answer_of, width, said) -> None:
    """Where no grade takes it, its neighbours are named."""
    assert said in answer_of(width=width).warnings


def test_western_bounds_are_settings(inputs_of) -> None:
    """A workshop that moves a bound gets its own set; crossed bounds are told, not hidden."""
    moved = {"line_width.western_ef_high": 480_000}
    assert compute(inputs_of(width="0.5", changed_settings=moved)).result["western"] == ["F"]
    closed = {"line_width.western_bb_high": 2_000_000}
    assert compute(inputs_of(width="3", changed_settings=closed)).result["western"] == []
    crossed = {"line_width.western_f_low": 700_000}
    answer = compute(inputs_of(width="0.6", changed_settings=crossed))
    assert answer.result["western"] == ["M"]
    assert any("Western F are crossed" in warning for warning in answer.warnings)


def test_every_setting_is_read_and_says_that_no_table_is_known(inputs_of) -> None:
    """All ten bounds rest on common practice, and each answer notes them."""
    inputs = inputs_of(width="0.5")
    compute(inputs)
    assert set(inputs.settings_read) == {setting.name for setting in SETTINGS}
    assert len(SETTINGS) == 10
    assert all("common practice" in setting.source for setting in SETTINGS)


@given(st.integers(1, 5_000_000), st.integers(0, 400_000), st.integers(0, 400_000))
def test_a_larger_spread_never_loses_a_grade(width, spread, more) -> None:
    """Grades come in order, without gaps in the table's order, and only ever more of them."""
    settings = {setting.name: setting.default for setting in SETTINGS}

    def sets(of: int) -> tuple[list[str], list[str]]:
        inputs = Inputs({"width": width}, spreads={"width": of}, settings=settings)
        result = compute(inputs).result
        return result["western"], result["japanese"]

    if spread + more >= width:
        return
    codes = [grade.code for grade in JAPANESE]
    for narrow, wide in zip(sets(spread), sets(spread + more), strict=True):
        assert set(narrow) <= set(wide)
    indices = [codes.index(code) for code in sets(spread)[1]]
    assert indices == list(range(indices[0], indices[0] + len(indices))) if indices else True
