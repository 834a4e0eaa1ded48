"""Outcomes in bands, over months, and against settings: what is counted, what is left unsaid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from sparewell.extend.host import Declarations
from sparewell.extend.inputs import SettingValues
from sparewell.learned.bands import MarginBands, margins_in_bands
from sparewell.learned.fitted import Fitted
from sparewell.learned.months import over_months
from sparewell.learned.questions import SettingQuestion, questions
from sparewell.learned.tallies import OutcomeTally

STRETCH = "stretch_percent"
ONE = Fitted(1, "sac", "latex", 1, "sac", {}, "shellac", {}, "good", 0.0)


def sacs(count: int, stretch: str, outcome: str | None = "good", **said: Any) -> list[Fitted]:
    """Return so many sacs that were promised with a stretch, and how they turned out."""
    margins = {STRETCH: Decimal(stretch)}
    return [replace(ONE, margins=margins, outcome=outcome, **said)] * count


def values_of(declared: Declarations, **changed: Any) -> SettingValues:
    """Return every setting with its default, but for what is changed."""
    present = {name: setting.default for name, setting in declared.settings.items()}
    return SettingValues(
        present | {name.replace("__", "."): each for name, each in changed.items()}
    )


def in_bands(declared: Declarations, some: Sequence[Fitted], **changed: Any) -> list[MarginBands]:
    """Return the margins in bands."""
    return list(margins_in_bands(some, declared, values_of(declared, **changed)))


def asked(declared: Declarations, some: Sequence[Fitted], **changed: Any) -> list[SettingQuestion]:
    """Return the questions."""
    values = values_of(declared, **changed)
    return questions(margins_in_bands(some, declared, values), declared, values)


def heard_of(margin: MarginBands) -> list[int]:
    """Return how many were heard of in each band."""
    return [band.tally.heard for band in margin.bands]


def test_bands_end_where_the_settings_say(declared: Declarations) -> None:
    """A mark belongs to the side that the judgement gives it: 5, 20 and 30 % still do well."""
    some = [each for text in ("2.9", "4.9", "5", "20", "30", "30.1") for each in sacs(1, text)]
    (margin,) = in_bands(declared, some)
    assert (margin.calculator, margin.margin, margin.is_length) == ("sac", STRETCH, False)
    assert heard_of(margin) == [1, 1, 2, 1, 1]
    assert [band.is_expected for band in margin.bands] == [False, False, True, True, False]
    ends = [band.high.setting for band in margin.bands if band.high]
    assert ends == [
        "sac.stretch_loose",
        "sac.stretch_marginal",
        "sac.stretch_good",
        "sac.stretch_acceptable",
    ]


def test_bands_follow_a_setting_that_was_changed(declared: Declarations) -> None:
    """With a higher end of what is acceptable, what lay above lies within."""
    (margin,) = in_bands(declared, sacs(1, "33"), sac__stretch_acceptable=Decimal(34))
    assert heard_of(margin) == [0, 0, 0, 1, 0]


def test_each_material_has_its_own_scale(declared: Declarations) -> None:
    """Silicone does well up to 20 %, latex up to 30 %; an unknown material has no scale."""
    some = [*sacs(1, "25"), *sacs(1, "25", material="Silicone"), *sacs(1, "25", material=None)]
    latex, others, unknown = in_bands(declared, some)
    assert latex.narrowed == {"material": "latex"}
    assert others.narrowed == {"material": "silicone, pvc"}
    assert [band.is_expected for band in others.bands if band.tally.heard] == [False]
    assert (unknown.narrowed, heard_of(unknown)) == ({}, [1])


def test_a_ring_is_held_against_the_bands_that_decide(declared: Declarations) -> None:
    """By the duty of its need and by the bands that the workshop has chosen."""
    ring = replace(
        ONE,
        kind="o_ring",
        calculator="o_ring",
        margins={"squeeze_percent": Decimal(11)},
        given={"gland": "rod", "duty": "moving"},
    )
    (pens,) = in_bands(declared, [ring])
    assert pens.narrowed == {"duty": "moving"}
    assert [band.is_expected for band in pens.bands if band.tally.heard] == [True]
    (published,) = in_bands(declared, [ring], o_ring__bands="published")
    assert published.scale is not None
    assert published.scale.low == "o_ring.published_moving_low"
    (nothing,) = in_bands(declared, [replace(ring, given={})])
    assert nothing.scale is None


def test_a_margin_without_settings_is_cut_into_quarters(declared: Declarations) -> None:
    """Twelve different lengths are four bands of three; few are one band, and so are equal ones."""
    some = [replace(ONE, margins={"barrel": 100 * number}) for number in range(12)]
    (margin,) = in_bands(declared, some)
    assert (margin.is_length, heard_of(margin)) == (True, [4, 3, 3, 2])
    assert [band.high.value for band in margin.bands if band.high] == [300, 600, 900]
    (few,) = in_bands(declared, some[:9])
    assert heard_of(few) == [9]
    (equal,) = in_bands(declared, [some[0]] * 20)
    assert heard_of(equal) == [20]


def test_a_calculator_that_is_gone_keeps_its_margins(declared: Declarations) -> None:
    """What an absent plugin judged is still counted, without its settings."""
    (margin,) = in_bands(declared, sacs(3, "25", calculator="bushing"))
    assert (margin.calculator, heard_of(margin)) == ("bushing", [3])


def test_nothing_is_said_of_few() -> None:
    """Nine have no share, ten have one; the sentence counts what nobody has said."""
    told = OutcomeTally()
    for each in [*sacs(8, "25"), *sacs(1, "25", "leaked"), *sacs(3, "25", None)]:
        told.count(each)
    assert told.share is None
    assert told.says == "12 fitted, 9 heard of, 1 failed; 3 unknown"
    told.count(replace(ONE, outcome="tight", months=1.0))
    assert told.share is not None
    assert (told.failed, told.heard_later) == (2, 1)
    assert told.says == ("13 fitted, 10 heard of, 2 failed; 3 unknown: 20 % (95 %: 5.7 to 51 %)")


@pytest.mark.parametrize(
    ("good", "failed", "unknown", "is_asked"),
    [
        (20, 9, 100, False),  # 29 known, however many more were fitted
        (20, 10, 0, True),
        (25, 5, 0, False),  # 16.7 %, and the interval begins below 10 %
        (30, 0, 0, False),
    ],
)
def test_a_setting_is_questioned_by_thirty_at_least(
    declared: Declarations, good: int, failed: int, unknown: int, *, is_asked: bool
) -> None:
    """Neither fewer known outcomes nor an interval that holds the expected share are enough."""
    some = [*sacs(good, "25"), *sacs(failed, "28", "leaked"), *sacs(unknown, "25", None)]
    found = [question.setting for question in asked(declared, some)]
    assert found == (["sac.stretch_acceptable"] if is_asked else [])


def test_a_question_gives_its_numbers(declared: Declarations) -> None:
    """The sentence names both ends, counts, the share with its interval, and what is expected."""
    some = [*sacs(20, "25"), *sacs(10, "28", "leaked")]
    (question,) = asked(declared, some)
    assert (question.value, question.unit, question.tally.heard) == (30.0, "%", 30)
    assert question.says == (
        "Of 30 heard of between sac.stretch_good (20 %) and sac.stretch_acceptable (30 %), "
        "10 failed: 33.3 % (95 %: 19.2 to 51.2 %). That is more than the 10 % expected."
    )
    assert asked(declared, some, learned__expected_failures=Decimal(20)) == []


def test_each_end_is_questioned_by_what_lies_next_to_it(declared: Declarations) -> None:
    """Failures just above the least stretch speak against that end; in one band, against both."""
    (question,) = asked(declared, [*sacs(60, "25"), *sacs(40, "6", "loose")])
    assert question.setting == "sac.stretch_marginal"
    assert "between sac.stretch_marginal (5 %) and sac.stretch_good (20 %)" in question.says
    silicone = asked(declared, sacs(40, "15", "leaked", material="silicone"))
    assert [each.setting for each in silicone] == ["sac.stretch_marginal", "sac.stretch_good"]
    crossed = {"sac__stretch_acceptable": Decimal(4), "sac__stretch_good": Decimal(4)}
    assert asked(declared, sacs(40, "15", "leaked"), **crossed) == []


def test_what_a_setting_warns_of_may_do_well(declared: Declarations) -> None:
    """Where none failed above what is acceptable, the setting may be stricter than need be."""
    some = [*sacs(10, "25"), *sacs(40, "33")]
    (question,) = asked(declared, some)
    assert question.setting == "sac.stretch_acceptable"
    assert question.says == (
        "Of 40 heard of above sac.stretch_acceptable (30 %), 0 failed: 0 % (95 %: 0 to 8.8 %). "
        "That is less than the 10 % expected of what fits well, so it may be stricter than it "
        "need be."
    )
    assert asked(declared, sacs(29, "33")) == []
    (below,) = asked(declared, sacs(40, "4"))
    assert below.setting == "sac.stretch_marginal"


def test_months_count_who_was_heard_of_so_late(declared: Declarations) -> None:
    """A word at the close says nothing of later; a failure counts in its months alone."""
    some = [
        *sacs(5, "25", months=0.0),
        *sacs(12, "25", months=14.0),
        *sacs(2, "25", "leaked", months=4.5),
        *sacs(1, "25", "leaked", months=12.0),
        *sacs(3, "25", None, months=None),
    ]
    (kind,) = over_months(some)
    counts = [(span.since, span.until, span.heard, span.failed) for span in kind.spans]
    assert counts == [
        (0, 1, 20, 0),
        (1, 3, 15, 0),
        (3, 6, 15, 2),
        (6, 12, 13, 0),
        (12, 24, 13, 1),
        (24, 60, 0, 0),
        (60, None, 0, 0),
    ]
    assert [span.share is None for span in kind.spans] == [False] * 5 + [True] * 2
    assert declared.kinds[kind.kind].title
