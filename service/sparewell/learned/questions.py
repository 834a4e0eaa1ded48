"""Where a workshop's own figures leave what a setting says. A person changes it, or does not.

A setting is questioned only with thirty known outcomes on one side of it, and only where the whole
interval lies on the other side of the share that may fail by a sound rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from sparewell.extend.host import Declarations
from sparewell.extend.inputs import SettingValues
from sparewell.extend.settings import shown, unit_of
from sparewell.learned.bands import Band, MarginBands, Number
from sparewell.learned.settings import EXPECTED_FAILURES
from sparewell.learned.tallies import OutcomeTally, percent, share_text, summed
from sparewell.learned.wilson import Share

FEWEST_TO_QUESTION: Final = 30


@dataclass(frozen=True)
class SettingQuestion:
    """What speaks against a setting: the figures on one side of it."""

    setting: str
    value: object
    unit: str
    calculator: str
    margin: str
    tally: OutcomeTally
    says: str


def questions(
    margins: Iterable[MarginBands], declared: Declarations, values: SettingValues
) -> list[SettingQuestion]:
    """Return what speaks against settings, in the order of the margins."""
    expected = values.number(EXPECTED_FAILURES.name) / 100
    return [
        question
        for margin in margins
        if margin.scale is not None
        for question in _of_margin(margin, _Asker(declared, values, expected))
    ]


@dataclass(frozen=True)
class _Asker:
    declared: Declarations
    values: SettingValues
    expected: Fraction

    def called(self, name: str) -> str:
        """Return a setting as a sentence names it: what it is called, and its value."""
        setting = self.declared.settings[name]
        value = shown(setting, self.values[name])
        return f"{setting.name} ({value:g} {unit_of(setting)})".replace(" )", ")")

    def question(
        self, name: str, margin: MarginBands, told: OutcomeTally, says: str
    ) -> SettingQuestion:
        """Return the question of one setting."""
        setting = self.declared.settings[name]
        value = shown(setting, self.values[name])
        unit = unit_of(setting)
        return SettingQuestion(name, value, unit, margin.calculator, margin.margin, told, says)

    def has_more(self, told: OutcomeTally) -> Share | None:
        """Return the share that failed, where it surely is more than expected."""
        share = told.share if told.heard >= FEWEST_TO_QUESTION else None
        return share if share is not None and share.low > self.expected else None

    def has_fewer(self, told: OutcomeTally) -> Share | None:
        """Return the share that failed, where it surely is less than expected."""
        share = told.share if told.heard >= FEWEST_TO_QUESTION else None
        return share if share is not None and share.high < self.expected else None

    @property
    def expected_text(self) -> str:
        """The share that may fail, in words."""
        return f"{percent(float(self.expected)):g} %"


def _of_margin(margin: MarginBands, asker: _Asker) -> Iterator[SettingQuestion]:
    scale = margin.scale
    assert scale is not None  # noqa: S101 - only those with a scale are asked
    inside = summed(band.tally for band in margin.bands if band.is_expected)
    share = asker.has_more(inside)
    ends = [name for name in (scale.low, scale.high) if name and asker.values[name] is not None]
    if share is not None:
        where = " and ".join(asker.called(name) for name in ends)
        says = (
            f"Of {inside.heard} heard of {'between' if len(ends) > 1 else 'on the good side of'} "
            f"{where}, {_failed(inside, share)}. That is more than the {asker.expected_text} "
            "expected."
        )
        yield from (asker.question(name, margin, inside, says) for name in ends)
    for name, side, bands in (
        (scale.low, "below", _below(margin.bands, scale.low, asker.values)),
        (scale.high, "above", _above(margin.bands, scale.high, asker.values)),
    ):
        outside = summed(band.tally for band in bands)
        share = asker.has_fewer(outside)
        if name is not None and share is not None:
            says = (
                f"Of {outside.heard} heard of {side} {asker.called(name)}, "
                f"{_failed(outside, share)}. That is less than the {asker.expected_text} expected "
                "of what fits well, so it may be stricter than it need be."
            )
            yield asker.question(name, margin, outside, says)


def _below(bands: Sequence[Band], name: str | None, values: SettingValues) -> list[Band]:
    end = None if name is None else values[name]
    return [band for band in bands if band.high is not None and _at_most(band.high.value, end)]


def _above(bands: Sequence[Band], name: str | None, values: SettingValues) -> list[Band]:
    end = None if name is None else values[name]
    return [band for band in bands if band.low is not None and _at_most(end, band.low.value)]


def _at_most(first: object, second: object) -> bool:
    return isinstance(first, Number) and isinstance(second, Number) and first <= second


def _failed(told: OutcomeTally, share: Share) -> str:
    return f"{told.failed} failed: {share_text(share)}"
