"""How long and how wide a bar must be, refusing readings that contradict each other.

A J-bar runs from the closed end to a gap before the section; a button bar from the section to the
button with a little play. Either is cut from a longer one, and none can be made longer.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, isqrt

from sparewell.plugin import ImpossibleInput, Inputs, millimetres_text

J_BAR = "j_bar"


@dataclass(frozen=True)
class WantedBar:
    """The bar wanted; nanometres. `like` is true where the old bar's width was measured."""

    kind: str
    kind_given: bool
    bore_nanometres: int
    depth_nanometres: int
    tenon_nanometres: int
    tenon_given: bool
    gap_nanometres: int
    width_nanometres: int
    narrowest_nanometres: int
    widest_nanometres: int
    like: bool
    short_allowed_nanometres: int

    @property
    def is_j(self) -> bool:
        """Whether it is a J-bar."""
        return self.kind == J_BAR

    @property
    def cut_nanometres(self) -> int:
        """Return the length to cut to."""
        return self.depth_nanometres - self.tenon_nanometres - self.gap_nanometres

    @property
    def shortest_nanometres(self) -> int:
        """Return the shortest that is worth trying in."""
        return max(1, self.cut_nanometres - self.short_allowed_nanometres)


def bar_of(inputs: Inputs) -> WantedBar:
    """Return the bar wanted, or raise ImpossibleInput."""
    depth, bore = inputs.length("barrel_depth"), inputs.length("barrel_bore")
    if depth is None or bore is None:
        missing = "barrel_depth" if depth is None else "barrel_bore"
        raise ImpossibleInput((missing, f"{missing.replace('_', ' ').capitalize()} is needed."))
    _check_across(inputs, bore)
    given = inputs.text("bar_kind")
    kind = given or inputs.setting_text("pressure_bar.kind")
    tenon = inputs.length("tenon_length")
    gap_name = "pressure_bar.j_gap" if kind == J_BAR else "pressure_bar.button_play"
    narrowest, widest = _limits(inputs, bore)
    bar = WantedBar(
        kind=kind,
        kind_given=given is not None,
        bore_nanometres=bore,
        depth_nanometres=depth,
        tenon_nanometres=inputs.setting_length("pressure_bar.tenon") if tenon is None else tenon,
        tenon_given=tenon is not None,
        gap_nanometres=inputs.setting_length(gap_name),
        width_nanometres=_width(inputs, bore, narrowest, widest),
        narrowest_nanometres=narrowest,
        widest_nanometres=widest,
        like="bar_width" in inputs,
        short_allowed_nanometres=0
        if kind == J_BAR
        else inputs.setting_length("pressure_bar.button_short"),
    )
    if bar.cut_nanometres <= 0:
        raise ImpossibleInput(
            (
                "tenon_length" if bar.tenon_given else "barrel_depth",
                (
                    f"A tenon of {millimetres_text(bar.tenon_nanometres)} and a gap of "
                    f"{millimetres_text(bar.gap_nanometres)} leave nothing of a depth of "
                    f"{millimetres_text(depth)} for a bar."
                ),
            )
        )
    return bar


def height_in_place(bore: int, *, width: int, thickness: int) -> int | None:
    """Return how far a flat bar stands off the wall of a round bore, in nanometres, rounded up.

    It lies as a chord: its thickness and (bore - sqrt(bore^2 - width^2)) / 2. None where it fills
    the bore.
    """
    if width >= bore:
        return None
    height = thickness + (bore - isqrt(bore**2 - width**2) + 1) // 2
    return height if height < bore else None


def _check_across(inputs: Inputs, bore: int) -> None:
    """Refuse what is as wide as the bore."""
    words = {
        "bar_width": "A bar",
        "bar_thickness": "A bar's thickness",
        "slot_width": "A slot",
    }
    problems = []
    for name, what in words.items():
        value = inputs.length(name)
        if value is not None and value >= bore:
            problems.append(
                (
                    name,
                    (
                        f"{what} of {millimetres_text(value)} fills a bore of "
                        f"{millimetres_text(bore)}."
                    ),
                )
            )
    width, thickness = inputs.length("bar_width"), inputs.length("bar_thickness")
    if width is not None and thickness is not None and thickness >= width:
        problems.append(
            (
                "bar_thickness",
                (
                    f"A bar {millimetres_text(thickness)} thick and {millimetres_text(width)} "
                    "wide: are the two swapped?"
                ),
            )
        )
    if problems:
        raise ImpossibleInput(*problems)


def _limits(inputs: Inputs, bore: int) -> tuple[int, int]:
    """Return the narrowest and the widest a bar may be."""
    narrowest = ceil(bore * inputs.setting_number("pressure_bar.width_least") / 100)
    widest = int(bore * inputs.setting_number("pressure_bar.width_most") / 100)
    slot, old = inputs.length("slot_width"), inputs.length("bar_width")
    if slot is not None:
        narrowest = max(narrowest, slot + inputs.setting_length("pressure_bar.over_slot"))
    if old is not None:
        # What was in the pen went in: the shares of the bore are only what is usual.
        allowed = inputs.setting_length("pressure_bar.like_width")
        narrowest, widest = min(narrowest, old - allowed), max(widest, old + allowed)
        narrowest, widest = max(1, narrowest), min(widest, bore - 1)
        if slot is not None:
            narrowest = max(narrowest, slot + 1)
    if narrowest > widest:
        raise ImpossibleInput(
            (
                "slot_width" if slot is not None else "barrel_bore",
                (
                    f"No bar is wider than {millimetres_text(narrowest)} and still lies in a bore "
                    f"of {millimetres_text(bore)}."
                ),
            )
        )
    return narrowest, widest


def _width(inputs: Inputs, bore: int, narrowest: int, widest: int) -> int:
    """Return the best width: the old bar's, else the usual share of the bore."""
    best = inputs.length("bar_width")
    if best is None:
        best = round(bore * inputs.setting_number("pressure_bar.width_best") / 100)
    return min(max(best, narrowest), widest)
