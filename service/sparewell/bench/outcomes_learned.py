"""What the workshop's own outcomes say, on a page, each figure in a plot and in its table."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from sparewell.bench.learned_plot import PlottedBand, drawn
from sparewell.bench.pages import Shown, blueprint, show
from sparewell.edge.context import work
from sparewell.learned.bands import Band, MarginBands, Mark
from sparewell.learned.operations import learned
from sparewell.learned.settings import EXPECTED_FAILURES
from sparewell.measure.length import NANOMETRES_PER_MILLIMETRE
from sparewell.measure.wording import number_text
from sparewell.settings.operations import present_values


@blueprint.get("/learned")
def learned_page() -> Shown:
    """Show what was learned: what is asked, then each margin, bags, materials, glues, months."""
    found = learned(work())
    expected = present_values(work().session, work().declared).number(EXPECTED_FAILURES.name)
    margins, of_few = [], []
    for margin in found.margins:
        if all(band.tally.share is None for band in margin.bands):
            of_few.append(_called(margin))
            continue
        labels = [_label(band, margin) for band in margin.bands]
        plotted = [
            PlottedBand(label, band.tally.heard, band.tally.share)
            for label, band in zip(labels, margin.bands, strict=True)
        ]
        called = _called(margin)
        plot = drawn(plotted, float(expected) / 100, called)
        margins.append((called, plot, list(zip(labels, margin.bands, strict=True))))
    return show("learned.html", found=found, margins=margins, of_few=of_few)


def _called(margin: MarginBands) -> str:
    """Return what a margin is of, as it is said."""
    of = ", ".join(f"{name} {value}" for name, value in margin.narrowed.items())
    name = margin.margin.removesuffix("_percent").replace("_", " ")
    called = f"{margin.calculator.replace('_', ' ')}: {name}".capitalize()
    return f"{called} ({of})" if of else called


def _label(band: Band, margin: MarginBands) -> str:
    low, high = (None if mark is None else _end(mark) for mark in (band.low, band.high))
    unit = " mm" if margin.is_length else " %" if margin.margin.endswith("_percent") else ""
    if low is None:
        return "all" if high is None else f"up to {high}{unit}"
    return f"above {low}{unit}" if high is None else f"{low} to {high}{unit}"


def _end(mark: Mark) -> str:
    """Return where a band ends; a hundredth of a millimetre is as near as anyone looks."""
    if isinstance(mark.value, Decimal):
        return f"{mark.value.normalize():f}"
    return number_text(Fraction(mark.value, NANOMETRES_PER_MILLIMETRE), 2)
