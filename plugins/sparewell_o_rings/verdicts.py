"""From the figures to a verdict. It comes from the extremes, never from the nominal figure.

* fits: squeeze and stretch stay inside their bands whatever the tolerances do;
* try_in: they reach into the band and out of it, so this very ring is to be measured, or tried;
* tight: always above the band, or at worst above what is published, or the groove too full;
* loose: always below the band, or at its thinnest it does not touch, or it sits slack;
* refused: it cannot seal, cannot be fitted, or fills the groove entirely.

Of squeeze, stretch and fill the worst verdict counts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from sparewell.plugin import Inputs, Verdict, number_text, percent_text, worked_out_once
from sparewell_o_rings.assess import Assessment, Percent
from sparewell_o_rings.glands import Duty, GlandKind, gland_of
from sparewell_o_rings.section import ENDS

VERDICT_ORDER: Final = {
    verdict: place
    for place, verdict in enumerate(
        (Verdict.FITS, Verdict.TRY_IN, Verdict.TIGHT, Verdict.LOOSE, Verdict.REFUSED)
    )
}
GOOD: Final = frozenset({Verdict.FITS, Verdict.TRY_IN})
_FULL: Final = Decimal(100)


@dataclass(frozen=True)
class PercentBand:
    """Bounds in per cent."""

    low: Decimal
    high: Decimal

    def outside(self, percent: Decimal) -> Decimal:
        """Return by how many points a figure lies outside; nothing inside."""
        return max(self.low - percent, percent - self.high, Decimal(0))

    @property
    def text(self) -> str:
        """Return "12 to 20 %"."""
        return f"{number_text(self.low, 2)} to {number_text(self.high, 2)} %"


@dataclass(frozen=True)
class RingBands:
    """Everything the figures are held against, in per cent."""

    squeeze: PercentBand
    pens: PercentBand
    published: PercentBand
    squeeze_worst: Decimal
    squeeze_refused: Decimal
    stretch: PercentBand
    stretch_ideal: Decimal
    stretch_refused: Decimal
    slack_most: Decimal
    fill: PercentBand
    fill_worst: Decimal


@dataclass(frozen=True)
class Judged:
    """The verdict on one ring, with what writes each reason: few rings are shown."""

    verdict: Verdict
    reasons: Sequence[Callable[[], str]]


@worked_out_once
def bands_of(inputs: Inputs) -> RingBands:
    """Return the bands for the gland and its duty, from the settings."""
    gland = gland_of(inputs)
    moving = gland.duty is Duty.MOVING
    duty = "moving" if moving else "static"
    still = "face" if gland.kind is GlandKind.FACE else "radial"
    published_name = "moving" if moving else still
    pens = _band(inputs, f"squeeze_{duty}")
    published = _band(inputs, f"published_{published_name}")
    return RingBands(
        squeeze=pens if inputs.setting_text("o_ring.bands") == "pens" else published,
        pens=pens,
        published=published,
        squeeze_worst=_number(inputs, f"squeeze_worst_{duty}"),
        squeeze_refused=_number(inputs, "squeeze_refused"),
        stretch=PercentBand(
            _number(inputs, "stretch_least"), _number(inputs, f"stretch_most_{duty}")
        ),
        stretch_ideal=_number(inputs, "stretch_ideal"),
        stretch_refused=_number(inputs, "stretch_refused"),
        slack_most=_number(inputs, "slack_most"),
        fill=_band(inputs, "fill"),
        fill_worst=_number(inputs, "fill_worst"),
    )


def _number(inputs: Inputs, name: str) -> Decimal:
    """Return a setting in per cent: settings are decimals, so this is exact."""
    exact = inputs.setting_number(f"o_ring.{name}")
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def _band(inputs: Inputs, name: str) -> PercentBand:
    """Return a band whose bounds are two settings."""
    return PercentBand(_number(inputs, f"{name}_low"), _number(inputs, f"{name}_high"))


def verdict_of(bands: RingBands, assessment: Assessment) -> Judged:
    """Return the verdict on a ring, and what it rests on, in sentences."""
    found = [
        (*_of_squeeze(bands, assessment.squeeze), "squeeze"),
        (*_of_stretch(bands, assessment.stretch), "stretch"),
    ]
    if assessment.fill is not None:
        found.append((*_of_fill(bands, assessment.fill), "fill"))
    worst = max((each[0] for each in found), key=VERDICT_ORDER.__getitem__)
    # What decides is told first; the rest keeps its order.
    found.sort(key=lambda each: each[0] is not worst)
    return Judged(worst, [words for _, words, _ in found])


def _figure(name: str, percent: Percent) -> str:
    """Return "squeeze 14.4 % (10.1 to 18.3 %)"."""
    if percent.least == percent.most:
        return f"{name} {percent_text(percent.nominal)}"
    return (
        f"{name} {percent_text(percent.nominal)} ({number_text(percent.least, 1)} to "
        f"{percent_text(percent.most)})"
    )


def _of_squeeze(bands: RingBands, squeeze: Percent | None) -> tuple[Verdict, Callable[[], str]]:
    """Return the verdict on the squeeze alone: the first of these that holds."""
    if squeeze is None:
        return (
            Verdict.TIGHT,
            lambda: (
                "the squeeze is not reckoned: the published tables of thinned sections end at "
                f"{percent_text(100 * ENDS)} of stretch"
            ),
        )
    band = bands.squeeze
    outside = band.outside(squeeze.least) or band.outside(squeeze.most)
    refused, worst = bands.squeeze_refused, bands.squeeze_worst
    cases = (
        (squeeze.most <= 0, Verdict.REFUSED, "{told}: it does not touch, so it cannot seal"),
        (
            squeeze.least > refused,
            Verdict.REFUSED,
            "{told}: more than {refused}, too thick for this gland",
        ),
        (squeeze.most < band.low, Verdict.LOOSE, "{against}: too little"),
        (squeeze.least > band.high, Verdict.TIGHT, "{against}: too much"),
        (squeeze.least <= 0, Verdict.LOOSE, "{against}: at its thinnest it does not touch"),
        (
            squeeze.most > worst and squeeze.least >= band.low,
            Verdict.TIGHT,
            "{against}: at worst above {worst}",
        ),
        (
            bool(outside),
            Verdict.TRY_IN,
            "{against}: inside or outside by tolerance, so measure its section",
        ),
        (True, Verdict.FITS, "{against}"),
    )
    verdict, words = next((verdict, words) for holds, verdict, words in cases if holds)

    def why() -> str:
        told = _figure("squeeze", squeeze)
        return words.format(
            told=told,
            against=f"{told} against {band.text}",
            refused=percent_text(refused),
            worst=percent_text(worst),
        )

    return verdict, why


def _of_stretch(bands: RingBands, stretch: Percent) -> tuple[Verdict, Callable[[], str]]:
    """Return the verdict on the stretch alone."""
    band = bands.stretch
    if stretch.most < -bands.slack_most:
        verdict, words = Verdict.REFUSED, "{told}: larger than its seat by more than {slack}"
    elif stretch.least > bands.stretch_refused:
        verdict, words = Verdict.REFUSED, "{told}: more than {refused}"
    elif stretch.most < band.low:
        verdict, words = Verdict.LOOSE, "{told}: it sits slack"
    elif stretch.least > band.high:
        verdict, words = Verdict.TIGHT, "{told}: more than {high}"
    elif band.outside(stretch.least) or band.outside(stretch.most):
        verdict = Verdict.TRY_IN
        words = "{told} against {band}: by tolerance, so measure its inside diameter"
    else:
        verdict, words = Verdict.FITS, "{told}"
    return verdict, lambda: words.format(
        told=_figure("stretch", stretch),
        band=band.text,
        slack=percent_text(bands.slack_most),
        refused=percent_text(bands.stretch_refused),
        high=percent_text(band.high),
    )


def _of_fill(bands: RingBands, fill: Percent) -> tuple[Verdict, Callable[[], str]]:
    """Return the verdict on the fill alone. A low fill is only remarked."""
    if fill.least >= _FULL:
        verdict, words = Verdict.REFUSED, ": rubber does not compress, and the groove is too small"
    elif fill.most >= _FULL:
        verdict = Verdict.TIGHT
        words = ": at worst the groove is full, and the ring cannot give way"
    elif fill.most > bands.fill_worst:
        verdict, words = Verdict.TIGHT, ": at worst above {worst}"
    elif fill.nominal > bands.fill.high:
        verdict, words = Verdict.FITS, ", above the usual {usual}"
    elif fill.nominal < bands.fill.low:
        verdict, words = Verdict.FITS, ", below the usual {usual}: it has room to roll"
    else:
        verdict, words = Verdict.FITS, ""
    return (
        verdict,
        lambda: (
            _figure("fill", fill)
            + words.format(worst=percent_text(bands.fill_worst), usual=bands.fill.text)
        ),
    )
