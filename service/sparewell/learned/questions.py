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
from sparewell.learned.bands import Band, MarginBands
from sparewell.learned.settings import EXPECTED_FAILURES
from sparewell.learned.tallies import OutcomeTally, percent, share_text, summed
from sparewell.learned.wilson import Proportion

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
    asker = _Asker(declared, values, expected)
    return [question for margin in margins for question in _of_margin(margin, asker)]


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

    def where(self, band: Band) -> str:
        """Return where a band lies, by the settings at its ends."""
        low = self.called(band.low.setting) if band.low and band.low.setting else ""
        high = self.called(band.high.setting) if band.high and band.high.setting else ""
        if low and high:
            return f"between {low} and {high}"
        return f"above {low}" if low else f"up to {high}"

    def question(
        self, name: str, margin: MarginBands, told: OutcomeTally, says: str
    ) -> SettingQuestion:
        """Return the question of one setting."""
        setting = self.declared.settings[name]
        value = shown(setting, self.values[name])
        unit = unit_of(setting)
        return SettingQuestion(name, value, unit, margin.calculator, margin.margin, told, says)

    def has_more(self, told: OutcomeTally) -> Proportion | None:
        """Return the share that failed, where it surely is more than expected."""
        share = told.share if told.heard >= FEWEST_TO_QUESTION else None
        return share if share is not None and share.low > self.expected else None

    def has_fewer(self, told: OutcomeTally) -> Proportion | None:
        """Return the share that failed, where it surely is less than expected."""
        share = told.share if told.heard >= FEWEST_TO_QUESTION else None
        return share if share is not None and share.high < self.expected else None

    @property
    def expected_text(self) -> str:
        """The share that may fail, in words."""
        return f"{percent(float(self.expected)):g} %"


def _of_margin(margin: MarginBands, asker: _Asker) -> Iterator[SettingQuestion]:
    """Yield what speaks against either end: the band within it, or all that lies beyond it."""
    scale, bands = margin.scale, margin.bands
    places = [place for place, band in enumerate(bands) if band.is_expected]
    if scale is None or not places:
        return
    first, last = places[0], places[-1]
    if scale.low is not None and first > 0:
        yield from _of_end(margin, asker, scale.low, bands[first], bands[:first], "below")
    if scale.high is not None and last < len(bands) - 1:
        yield from _of_end(margin, asker, scale.high, bands[last], bands[last + 1 :], "above")


def _of_end(
    margin: MarginBands,
    asker: _Asker,
    name: str,
    within: Band,
    beyond: Sequence[Band],
    side: str,
) -> Iterator[SettingQuestion]:
    share = asker.has_more(within.tally)
    if share is not None:
        says = (
            f"Of {within.tally.heard} heard of {asker.where(within)}, "
            f"{_failed(within.tally, share)}. That is more than the {asker.expected_text} expected."
        )
        yield asker.question(name, margin, within.tally, says)
    outside = summed(band.tally for band in beyond)
    share = asker.has_fewer(outside)
    if share is not None:
        says = (
            f"Of {outside.heard} heard of {side} {asker.called(name)}, "
            f"{_failed(outside, share)}. That is less than the {asker.expected_text} expected "
            "of what fits well, so it may be stricter than it need be."
        )
        yield asker.question(name, margin, outside, says)


def _failed(told: OutcomeTally, share: Proportion) -> str:
    return f"{told.failed} failed: {share_text(share)}"
