"""How far each dimension of a piece in hand may be from the washer wanted, case by case.

A band has four marks: outside `least` and `most` a piece is refused, between `low` and `high` it
fits, and between the two it is tight or loose. A hole that is too small is never a refusal: it
can be opened.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from sparewell.plugin import Inputs, Verdict
from sparewell_gaskets.inputs import WasherMode
from sparewell_gaskets.sizing import WantedWasher, is_cork


@dataclass(frozen=True)
class FitBand:
    """The marks in nanometres, and what a piece below or above `low` and `high` does."""

    least: int
    low: int
    high: int
    most: int
    below: Verdict
    below_words: str
    above: Verdict
    above_words: str

    def verdict(self, nanometres: int) -> tuple[Verdict, str | None]:
        """Return the verdict on one dimension, and what speaks against it."""
        if nanometres < self.low:
            verdict = self.below if nanometres >= self.least else Verdict.REFUSED
            return verdict, self.below_words
        if nanometres > self.high:
            verdict = self.above if nanometres <= self.most else Verdict.REFUSED
            return verdict, self.above_words
        return Verdict.FITS, None


def outside_band(inputs: Inputs, washer: WantedWasher) -> FitBand:
    """Return the band of the outside diameter."""
    fit = inputs.setting_length("gasket.fit_band")
    tried = max(fit, inputs.setting_length("gasket.try_band"))
    ideal = washer.outside_nanometres
    match washer.mode:
        case WasherMode.PACKING:
            bore = inputs.length("bore") or 0
            return FitBand(
                bore - fit, bore, ideal + fit, ideal + tried,
                Verdict.LOOSE, "does not press on the cavity: it leaks",
                Verdict.TIGHT, "has to be forced into the cavity",
            )  # fmt: skip
        case WasherMode.WASHER:
            bore = inputs.length("bore") or 0
            return FitBand(
                ideal - tried, ideal - fit, bore, bore,
                Verdict.LOOSE, "slides about in its seat",
                Verdict.TIGHT, "does not lie flat in its seat",
            )  # fmt: skip
        case WasherMode.HEAD_WASHER:
            return _head_band(inputs, ideal, fit)
        case WasherMode.SHEET:
            return _around(ideal, fit, tried, "is smaller than asked for", "is larger")


def _head_band(inputs: Inputs, ideal: int, fit: int) -> FitBand:
    """Return the band of a head washer: over its backing washer, and up to the barrel's wall."""
    backing = inputs.length("backing_washer") or 0
    most = backing + inputs.setting_length("gasket.head_most_over")
    low, words = backing + (ideal - backing) // 2, "is hardly over its backing washer: it leaks"
    bore = inputs.length("barrel_bore") or 0
    if bore > low:
        low, words = bore, "does not reach the wall of its barrel: it leaks"
    return FitBand(
        backing, low, min(ideal + fit, most), most,
        Verdict.LOOSE, words,
        Verdict.TIGHT, "snags and tears",
    )  # fmt: skip


def inside_band(inputs: Inputs, washer: WantedWasher) -> FitBand | None:
    """Return the band of the hole, or None where none is wanted."""
    ideal = washer.inside_nanometres
    if ideal is None:
        return None
    fit = inputs.setting_length("gasket.fit_band")
    tried = max(fit, inputs.setting_length("gasket.try_band"))
    rod = inputs.length("rod") or 0
    match washer.mode:
        case WasherMode.PACKING:
            low, high = ideal - fit, min(ideal + fit, rod - 1)
            if not is_cork(inputs):
                low = ceil(rod * (1 - inputs.setting_number("gasket.under_rod_most") / 100))
                high = floor(rod * (1 - inputs.setting_number("gasket.under_rod_least") / 100))
            return _hole(low, high, rod - 1, "drags on the rod", "hardly grips the rod: it leaks")
        case WasherMode.WASHER:
            return _hole(
                rod, ideal + fit, ideal + tried, "has to be stretched over the rod", "sits loose"
            )
        case WasherMode.HEAD_WASHER:
            stem = washer.stem_nanometres or 0
            return _hole(ideal - fit, stem, stem + fit, "is tight on the stem", "leaks at the stem")
        case WasherMode.SHEET:
            return _hole(ideal - fit, ideal + fit, ideal + tried, "is smaller", "is larger")


def thickness_band(inputs: Inputs, washer: WantedWasher) -> FitBand | None:
    """Return the band of the thickness, or None where any will do."""
    ideal = washer.thickness_nanometres
    fit = inputs.setting_length("gasket.fit_band")
    tried = max(fit, inputs.setting_length("gasket.try_band"))
    if ideal is None or washer.mode is WasherMode.PACKING:
        return None
    if washer.mode is WasherMode.HEAD_WASHER:
        thick = max(ideal, inputs.setting_length("gasket.head_thick_from") - 1)
        return FitBand(
            ideal - tried, ideal - fit, thick, thick + tried,
            Verdict.LOOSE, "is thin for a head washer",
            Verdict.TIGHT, "is thicker than is best",
        )  # fmt: skip
    depth = inputs.length("seat_depth")
    if washer.mode is WasherMode.WASHER and depth is not None:
        return FitBand(
            depth + 1, max(depth + 1, ideal - fit), max(depth + 1, ideal + fit),
            max(depth + 1, ideal + tried),
            Verdict.LOOSE, "is hardly squeezed when the seat is closed",
            Verdict.TIGHT, "keeps the seat from closing",
        )  # fmt: skip
    return _around(ideal, fit, tried, "is thinner", "is thicker")


def _around(ideal: int, fit: int, tried: int, below: str, above: str) -> FitBand:
    """Return a band that is the same on both sides."""
    return FitBand(
        ideal - tried, ideal - fit, ideal + fit, ideal + tried,
        Verdict.LOOSE, below, Verdict.TIGHT, above,
    )  # fmt: skip


def _hole(low: int, high: int, most: int, below: str, above: str) -> FitBand:
    """Return the band of a hole: however small, it can be opened."""
    high = max(low, high)
    return FitBand(
        0, low, high, max(high, most),
        Verdict.TIGHT, f"{below}: open it", Verdict.LOOSE, above,
    )  # fmt: skip
