"""Outcomes by how much room pieces had when they were promised.

Where a calculator says which settings its margin is held against, those are the ends of the bands;
else each band holds about a quarter of what was fitted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from sparewell.extend.host import Declarations
from sparewell.extend.inputs import SettingValues
from sparewell.extend.scales import MarginScale
from sparewell.learned.fitted import Fitted
from sparewell.learned.tallies import FEWEST_TO_SAY, OutcomeTally

Number = int | Decimal
_QUARTERS: Final = 4
_Valued = Sequence[tuple[Number, Fitted]]


@dataclass(frozen=True)
class Mark:
    """Where one band ends and the next begins, and the setting that says so.

    The value itself belongs to the lower band, unless it is the least that does well.
    """

    value: Number
    setting: str | None = None
    is_least: bool = False

    def is_passed(self, value: Number) -> bool:
        """Whether a value lies in a band above."""
        return value >= self.value if self.is_least else value > self.value


@dataclass(frozen=True)
class Band:
    """What lies between two marks, and how it did; `is_expected` where it ought to do well."""

    low: Mark | None
    high: Mark | None
    is_expected: bool | None = None
    tally: OutcomeTally = field(default_factory=OutcomeTally)


@dataclass(frozen=True)
class MarginBands:
    """One margin of one calculator in bands, of what `narrowed` says; `scale` is what it is by."""

    calculator: str
    margin: str
    is_length: bool
    bands: Sequence[Band]
    scale: MarginScale | None = None

    @property
    def narrowed(self) -> Mapping[str, str]:
        """Of which pieces and needs alone it is."""
        if self.scale is None:
            return {}
        materials = ", ".join(self.scale.materials)
        return {**({"material": materials} if materials else {}), **self.scale.given}


def margins_in_bands(
    some: Sequence[Fitted], declared: Declarations, values: SettingValues
) -> Iterator[MarginBands]:
    """Yield each margin of each calculator in bands, sorted by their names."""
    groups: dict[tuple[str, str, bool], list[tuple[Number, Fitted]]] = {}
    for each in some:
        for margin, value in each.margins.items():
            key = each.calculator or "", margin, isinstance(value, int)
            groups.setdefault(key, []).append((value, each))
    for (calculator, margin, is_length), valued in sorted(groups.items(), key=lambda item: item[0]):
        rest: _Valued = valued
        for scale in _scales(declared, values, calculator, margin):
            within = [pair for pair in rest if _is_of(scale, pair[1])]
            rest = [pair for pair in rest if not _is_of(scale, pair[1])]
            if within:
                bands = _counted(_by_settings(scale, values), within)
                yield MarginBands(calculator, margin, is_length, bands, scale)
        if rest:
            bands = _counted(_by_quarters(rest), rest)
            yield MarginBands(calculator, margin, is_length, bands)


def _scales(
    declared: Declarations, values: SettingValues, calculator: str, margin: str
) -> list[MarginScale]:
    found = declared.calculators.get(calculator)
    return [
        scale
        for scale in (found.scales if found else ())
        if scale.margin == margin
        and all(values[name] == value for name, value in scale.while_set.items())
    ]


def _is_of(scale: MarginScale, each: Fitted) -> bool:
    is_of_material = not scale.materials or (each.material or "").lower() in scale.materials
    return is_of_material and all(
        each.given.get(name) == value for name, value in scale.given.items()
    )


def _by_settings(scale: MarginScale, values: SettingValues) -> list[Band]:
    """Return the bands between a scale's settings, as they are now."""
    low, high = (_value(values, name) for name in (scale.low, scale.high))
    marks = sorted(
        (
            Mark(value, name, low is not None and value <= low)
            for name in scale.marks
            if (value := _value(values, name)) is not None
        ),
        key=lambda mark: (mark.value, not mark.is_least),
    )
    return [
        Band(below, above, _is_between(below, above, low, high))
        for below, above in zip([None, *marks], [*marks, None], strict=True)
    ]


def _is_between(
    below: Mark | None, above: Mark | None, low: Number | None, high: Number | None
) -> bool:
    """Whether a band lies between the ends of what ought to do well; an open end is no end."""
    is_above_low = low is None or (below is not None and below.value >= low)
    return is_above_low and (high is None or (above is not None and above.value <= high))


def _value(values: SettingValues, name: str | None) -> Number | None:
    value = None if name is None else values[name]
    return value if isinstance(value, int | Decimal) else None


def _by_quarters(valued: _Valued) -> list[Band]:
    """Return bands of about a quarter each; few promises are one band, and equal ones share one."""
    ordered = sorted(value for value, _ in valued)
    ends: set[Number] = set()
    if len(ordered) >= FEWEST_TO_SAY:
        ends = {ordered[len(ordered) * part // _QUARTERS] for part in range(1, _QUARTERS)}
    marks = [Mark(value) for value in sorted(ends - {ordered[-1]})]
    return [Band(below, above) for below, above in zip([None, *marks], [*marks, None], strict=True)]


def _counted(bands: Sequence[Band], valued: _Valued) -> Sequence[Band]:
    marks = [band.high for band in bands if band.high is not None]
    for value, each in valued:
        bands[sum(mark.is_passed(value) for mark in marks)].tally.count(each)
    return bands
