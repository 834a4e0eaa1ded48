"""From the inputs to what the arithmetic needs, refusing readings that contradict each other.

In order: which bore governs, what stands in it, and what clearance is left. Each finding keeps how
it was come by, so that it can be shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sparewell.plugin import ImpossibleInput, Inputs, millimetres_text
from sparewell_sacs.limits import (
    TIMES_BY_RULE,
    chord_height_nanometres,
    clearance_nanometres,
    room_nanometres,
)
from sparewell_sacs.wording import READING_WORDS

_NEEDS_A_BARREL: Final = (
    "bar_height",
    "bar_thickness",
    "bar_width",
    "ring_wire",
    "barrel_bore_at",
    "barrel_bore_tail",
)


@dataclass(frozen=True)
class Bore:
    """The bore the sac lies in: of the barrel, narrower at the tail perhaps, or of the guard."""

    name: str
    mouth_nanometres: int
    tail_nanometres: int | None

    @property
    def in_guard(self) -> bool:
        """Whether the sac works inside a guard."""
        return self.name == "guard_bore"

    @property
    def governing_name(self) -> str:
        """Return the name of the reading that governs."""
        narrower = self.tail_nanometres is not None and self.tail_nanometres < self.mouth_nanometres
        return "barrel_bore_tail" if narrower else self.name

    @property
    def governing_nanometres(self) -> int:
        """Return the smaller of mouth and tail."""
        return min(self.mouth_nanometres, self.tail_nanometres or self.mouth_nanometres)


@dataclass(frozen=True)
class BarReading:
    """The highest thing in the bore. `reading` is the input it was taken from."""

    rule: str
    height_nanometres: int
    reading: str
    how: str

    @property
    def times(self) -> int:
        """Return how often the height comes off the diameter."""
        return TIMES_BY_RULE[self.rule]


@dataclass(frozen=True)
class Clearance:
    """The clearance used, whether it was asked for, and the one it is held against.

    By default it is held against none, or against the whole of it where the bar leaves none; one
    that was asked for, against the default.
    """

    nanometres: int
    given: bool
    other_nanometres: int
    most_nanometres: int
    generous_bar_nanometres: int

    def by_default(self, *, times: int, bar_height_nanometres: int) -> int:
        """Return the clearance that goes with a bar where none is asked for."""
        return clearance_nanometres(
            times=times,
            bar_height_nanometres=bar_height_nanometres,
            most_nanometres=self.most_nanometres,
            generous_bar_nanometres=self.generous_bar_nanometres,
        )


@dataclass(frozen=True)
class Readings:
    """Everything the arithmetic needs."""

    bore: Bore
    nipple_nanometres: int
    bar: BarReading
    clearance: Clearance
    ignored: tuple[str, ...]

    def room(self, bore_nanometres: int) -> int:
        """Return the widest a sac may be in this bore."""
        return room_nanometres(
            bore_nanometres=bore_nanometres,
            times=self.bar.times,
            bar_height_nanometres=self.bar.height_nanometres,
            clearance_nanometres=self.clearance.nanometres,
        )

    @property
    def mouth_room_nanometres(self) -> int:
        """Return the widest a sac may be at the mouth."""
        return self.room(self.bore.mouth_nanometres)

    @property
    def tail_room_nanometres(self) -> int | None:
        """Return the widest a sac may be at the tail, where that was measured."""
        tail_nanometres = self.bore.tail_nanometres
        return None if tail_nanometres is None else self.room(tail_nanometres)

    @property
    def room_nanometres(self) -> int:
        """Return the widest a straight sac may be."""
        return self.room(self.bore.governing_nanometres)


def readings_of(inputs: Inputs) -> Readings:
    """Return the readings, or raise ImpossibleInput naming each that cannot be true."""
    bore = _bore_of(inputs)
    nipple_nanometres = inputs.length("nipple_diameter")
    if nipple_nanometres is None:
        raise ImpossibleInput(("nipple_diameter", "The nipple's outside diameter is needed."))
    bar = _bar_of(inputs, bore)
    readings = Readings(
        bore=bore,
        nipple_nanometres=nipple_nanometres,
        bar=bar,
        clearance=_clearance_of(inputs, bar),
        ignored=_ignored_of(inputs, bore, bar),
    )
    problems = (*_problems_of_nipple(inputs, readings), *_problems_of_room(readings))
    if problems:
        raise ImpossibleInput(*problems)
    return readings


def _bore_of(inputs: Inputs) -> Bore:
    """Return the bore; exactly one of barrel and guard is needed."""
    barrel_nanometres = inputs.length("barrel_bore")
    guard_nanometres = inputs.length("guard_bore")
    if guard_nanometres is None:
        if barrel_nanometres is None:
            raise ImpossibleInput(
                ("barrel_bore", "Give the bore of the barrel, or the bore of the guard.")
            )
        return Bore("barrel_bore", barrel_nanometres, inputs.length("barrel_bore_tail"))
    if barrel_nanometres is not None:
        raise ImpossibleInput(
            ("guard_bore", "Give one: the bore of the barrel, or of the guard the sac works in.")
        )
    return Bore("guard_bore", guard_nanometres, None)


def _bar_of(inputs: Inputs, bore: Bore) -> BarReading:
    """Return the highest thing in the bore, and how its height was come by."""
    if bore.in_guard:
        return BarReading("none", 0, "guard_bore", "a guard has no bar in it")
    rule = inputs.text("bar_rule") or inputs.setting_text("sac.bar_rule")
    if rule == "none":
        return BarReading("none", 0, "bar_rule", "the rule asked for takes no bar off")
    bar = _strip_of(inputs, bore, rule)
    wire_nanometres = inputs.length("ring_wire")
    if wire_nanometres is not None and wire_nanometres > bar.height_nanometres:
        return BarReading(rule, wire_nanometres, "ring_wire", "the lever ring's wire stands higher")
    return bar


def _strip_of(inputs: Inputs, bore: Bore, rule: str) -> BarReading:
    """Return the bar itself: as measured, else worked out as a chord, else the usual one."""
    height_nanometres = inputs.length("bar_height")
    if height_nanometres is not None:
        return BarReading(rule, height_nanometres, "bar_height", "as measured in place")
    thickness_nanometres = inputs.length("bar_thickness")
    width_nanometres = inputs.length("bar_width")
    if thickness_nanometres is not None and width_nanometres is not None:
        return _chord_of(rule, bore, thickness_nanometres, width_nanometres)
    if thickness_nanometres is not None:
        raise ImpossibleInput(
            ("bar_width", "A bar's thickness needs its width too; or give the height in place.")
        )
    if width_nanometres is not None:
        raise ImpossibleInput(
            ("bar_thickness", "A bar's width needs its thickness too; or give the height in place.")
        )
    default_nanometres = inputs.setting_length("sac.bar_height")
    return BarReading(
        rule, default_nanometres, "default", "the usual height, since none was measured"
    )


def _chord_of(
    rule: str, bore: Bore, thickness_nanometres: int, width_nanometres: int
) -> BarReading:
    """Return the bar whose height follows from its thickness, its width and the bore."""
    bore_nanometres = bore.governing_nanometres
    if width_nanometres >= bore_nanometres:
        raise ImpossibleInput(
            (
                "bar_width",
                (
                    f"A bar {millimetres_text(width_nanometres)} wide does not lie in a bore of "
                    f"{millimetres_text(bore_nanometres)}."
                ),
            )
        )
    height_nanometres = chord_height_nanometres(
        bore_nanometres=bore_nanometres,
        bar_width_nanometres=width_nanometres,
        bar_thickness_nanometres=thickness_nanometres,
    )
    how = (
        f"worked out: a strip {millimetres_text(width_nanometres)} wide lies across the bore as "
        f"a chord and lifts its {millimetres_text(thickness_nanometres)} by "
        f"{millimetres_text(height_nanometres - thickness_nanometres)}"
    )
    return BarReading(rule, height_nanometres, "bar_thickness", how)


def _clearance_of(inputs: Inputs, bar: BarReading) -> Clearance:
    """Return the clearance asked for, or the one that goes with the bar, and the other one."""
    most_nanometres = inputs.setting_length("sac.clearance")
    generous_bar_nanometres = inputs.setting_length("sac.generous_bar")
    default_nanometres = clearance_nanometres(
        times=bar.times,
        bar_height_nanometres=bar.height_nanometres,
        most_nanometres=most_nanometres,
        generous_bar_nanometres=generous_bar_nanometres,
    )
    given_nanometres = inputs.length("clearance")
    used_nanometres = default_nanometres if given_nanometres is None else given_nanometres
    other_nanometres = 0 if used_nanometres else most_nanometres
    if used_nanometres != default_nanometres:
        other_nanometres = default_nanometres
    return Clearance(
        used_nanometres,
        given=given_nanometres is not None,
        other_nanometres=other_nanometres,
        most_nanometres=most_nanometres,
        generous_bar_nanometres=generous_bar_nanometres,
    )


def _ignored_of(inputs: Inputs, bore: Bore, bar: BarReading) -> tuple[str, ...]:
    """Return a sentence for each reading that was given and is not used."""
    if bore.in_guard:
        unused = [name for name in _NEEDS_A_BARREL if name in inputs]
        if inputs.text("bar_rule") not in {None, "none"}:
            unused.append("bar_rule")
        return tuple(f"{name} is not used: the sac works inside a guard." for name in unused)
    readings_of_bar = ("bar_height", "bar_thickness", "bar_width", "ring_wire")
    if bar.rule == "none":
        return tuple(
            f"{name} is not used: the rule asked for takes no bar off."
            for name in readings_of_bar
            if name in inputs
        )
    if "bar_height" in inputs and ("bar_thickness" in inputs or "bar_width" in inputs):
        return (
            (
                "bar_thickness and bar_width are not used: the height measured in place wins over "
                "the one worked out."
            ),
        )
    return ()


def _problems_of_nipple(inputs: Inputs, readings: Readings) -> tuple[tuple[str, str], ...]:
    """Return what cannot be true of the nipple, the wall, and how deep the bore was taken."""
    problems = []
    nipple_text = millimetres_text(readings.nipple_nanometres)
    bore = readings.bore
    if readings.nipple_nanometres >= bore.mouth_nanometres:
        problems.append(
            (
                "nipple_diameter",
                (
                    f"A nipple of {nipple_text} does not go into a {READING_WORDS[bore.name]} of "
                    f"{millimetres_text(bore.mouth_nanometres)}."
                ),
            )
        )
    wall_nanometres = inputs.length("wall")
    if wall_nanometres is not None and 2 * wall_nanometres >= readings.nipple_nanometres:
        problems.append(
            (
                "wall",
                (
                    f"A wall of {millimetres_text(wall_nanometres)} leaves no hole in a sac for a "
                    f"nipple of {nipple_text}."
                ),
            )
        )
    taken_at_nanometres = inputs.length("barrel_bore_at")
    depth_nanometres = inputs.length("barrel_depth")
    if (
        taken_at_nanometres is not None
        and depth_nanometres is not None
        and taken_at_nanometres > depth_nanometres
    ):
        problems.append(
            (
                "barrel_bore_at",
                (
                    f"The bore cannot be taken at {millimetres_text(taken_at_nanometres)} in a "
                    f"barrel {millimetres_text(depth_nanometres)} deep."
                ),
            )
        )
    return tuple(problems)


def _problems_of_room(readings: Readings) -> tuple[tuple[str, str], ...]:
    """Return what fills the bore, where bar and clearance leave nothing for a sac."""
    if readings.room_nanometres > 0:
        return ()
    bore, bar = readings.bore, readings.bar
    if readings.room_nanometres + readings.clearance.nanometres > 0:
        culprit = "clearance" if readings.clearance.given else bore.governing_name
    elif readings.mouth_room_nanometres > 0:
        culprit = "barrel_bore_tail"
    else:
        culprit = "barrel_bore" if bar.reading == "default" else bar.reading
    parts = []
    if bar.times:
        often = "twice " if bar.times > 1 else ""
        parts.append(f"{often}{millimetres_text(bar.height_nanometres)} for the bar")
    parts.append(f"{millimetres_text(readings.clearance.nanometres)} of clearance")
    sentence = (
        f"{' and '.join(parts)} leave nothing of a {READING_WORDS[bore.governing_name]} of "
        f"{millimetres_text(bore.governing_nanometres)} for a sac."
    )
    return ((culprit, sentence[0].upper() + sentence[1:]),)
