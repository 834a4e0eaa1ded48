"""From the inputs to the gland, refusing readings that contradict each other.

A gland is described by the diameter that the inside of the ring rests on, what faces it (the
other diameter, or the depth of a face groove), and its width; each with how far it may be off.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from sparewell.plugin import (
    ImpossibleInput,
    Inputs,
    length_text,
    worked_out_once,
)

Problem = tuple[str, str]


class GlandKind(StrEnum):
    """Where the ring sits."""

    PISTON = "piston"
    ROD = "rod"
    FACE = "face"


class Duty(StrEnum):
    """What the ring does."""

    STATIC = "static"
    MOVING = "moving"


# Which reading the ring rests on, and which one faces it.
READINGS: Final = {
    GlandKind.PISTON: ("groove_diameter", "bore"),
    GlandKind.ROD: ("rod", "bore"),
    GlandKind.FACE: ("groove_diameter", "groove_depth"),
}
WORDS: Final = {
    "groove_diameter": "groove diameter",
    "bore": "bore",
    "rod": "rod",
    "groove_depth": "groove depth",
    "groove_width": "groove width",
}


@dataclass(frozen=True)
class Span:
    """A length in nanometres: nominal, and the least and the most it may be."""

    nominal: int
    least: int
    most: int

    @classmethod
    def around(cls, nominal: int, tolerance: int) -> Span:
        """Return the span of a length with a tolerance either way."""
        return cls(nominal, nominal - tolerance, nominal + tolerance)

    @property
    def text(self) -> str:
        """Return "7.6 mm", or "7.6 mm (7.58 mm to 7.62 mm)"."""
        if self.least == self.most:
            return length_text(self.nominal)
        return (
            f"{length_text(self.nominal)} ({length_text(self.least)} to {length_text(self.most)})"
        )


@dataclass(frozen=True)
class Gland:
    """What holds the ring. `facing` is a diameter, or the depth of a face groove."""

    kind: GlandKind
    duty: Duty
    duty_given: bool
    resting: Span
    facing: Span
    width: Span | None
    corner_radius_nanometres: int
    ignored: tuple[str, ...]

    @property
    def is_radial(self) -> bool:
        """Whether the ring is squeezed along its radius."""
        return self.kind is not GlandKind.FACE

    @property
    def resting_name(self) -> str:
        """Return the input that the ring rests on."""
        return READINGS[self.kind][0]

    @property
    def facing_name(self) -> str:
        """Return the input that faces it."""
        return READINGS[self.kind][1]

    def twice_gap(self, resting: int, facing: int) -> int:
        """Return twice the height left for the ring: whole nanometres in every gland."""
        return facing - resting if self.is_radial else 2 * facing

    @property
    def twice_gap_span(self) -> Span:
        """Return twice the gap: nominal, least, most."""
        return Span(
            self.twice_gap(self.resting.nominal, self.facing.nominal),
            self.twice_gap(self.resting.most, self.facing.least),
            self.twice_gap(self.resting.least, self.facing.most),
        )

    @property
    def gap(self) -> Span:
        """Return the gap, to the nanometre."""
        twice = self.twice_gap_span
        return Span(twice.nominal // 2, twice.least // 2, twice.most // 2)


@worked_out_once
def gland_of(inputs: Inputs) -> Gland:
    """Return the gland, or raise ImpossibleInput naming each reading that cannot be true."""
    given_kind = inputs.text("gland")
    if given_kind is None:
        raise ImpossibleInput(("gland", "Say where the ring sits: piston, rod or face."))
    kind = GlandKind(given_kind)
    resting_name, facing_name = READINGS[kind]
    missing = [name for name in (resting_name, facing_name) if name not in inputs]
    if missing:
        raise ImpossibleInput(
            *((name, f"A {kind} gland needs its {WORDS[name]}.") for name in missing)
        )
    given_duty = inputs.text("duty")
    gland = Gland(
        kind=kind,
        duty=Duty(given_duty or Duty.STATIC),
        duty_given=given_duty is not None,
        resting=_required(inputs, resting_name),
        facing=_required(inputs, facing_name),
        width=_span(inputs, "groove_width"),
        corner_radius_nanometres=inputs.length("corner_radius") or 0,
        ignored=tuple(_ignored(inputs, (resting_name, facing_name))),
    )
    problems = [*_of_spans(inputs, gland), *_of_shape(gland)]
    if not problems:
        problems = [*_of_extremes(inputs, gland), *_of_corners(gland)]
    if problems:
        raise ImpossibleInput(*problems)
    return gland


def _tolerance(inputs: Inputs, name: str) -> int:
    """Return how far a reading may be off: the larger of its tolerance and its spread."""
    return max(inputs.length(f"{name}_tolerance") or 0, inputs.spread(name) or 0)


def _span(inputs: Inputs, name: str) -> Span | None:
    """Return a reading with its tolerance, or None where it was not given."""
    nominal = inputs.length(name)
    return None if nominal is None else Span.around(nominal, _tolerance(inputs, name))


def _required(inputs: Inputs, name: str) -> Span:
    """Return a reading that is known to be there."""
    span = _span(inputs, name)
    if span is None:
        raise ImpossibleInput((name, f"The {WORDS[name]} is needed."))
    return span


def _tolerance_name(inputs: Inputs, name: str) -> str:
    """Return the input that a tolerance came from."""
    given = inputs.length(f"{name}_tolerance")
    return f"{name}_tolerance" if given and given >= _tolerance(inputs, name) else name


def _ignored(inputs: Inputs, used: tuple[str, str]) -> Iterator[str]:
    """Yield a sentence for each reading, or tolerance, that this gland does not use."""
    for name, words in WORDS.items():
        is_used = name in used or name == "groove_width"
        if name in inputs and not is_used:
            yield f"The {words} is not used: this gland is described by {_both(used)}."
        if f"{name}_tolerance" in inputs and (name not in inputs or not is_used):
            yield f"{name}_tolerance is not used, since there is no {words} for it to belong to."


def _both(used: tuple[str, str]) -> str:
    """Return the two readings of a gland in words."""
    return f"its {WORDS[used[0]]} and its {WORDS[used[1]]}"


def _of_spans(inputs: Inputs, gland: Gland) -> Iterator[Problem]:
    """Yield each tolerance that leaves nothing of its reading."""
    spans = {gland.resting_name: gland.resting, gland.facing_name: gland.facing}
    if gland.width is not None:
        spans["groove_width"] = gland.width
    for name, span in spans.items():
        if span.least <= 0:
            yield (
                _tolerance_name(inputs, name),
                (
                    f"A tolerance of {length_text(span.most - span.nominal)} leaves nothing of a "
                    f"{WORDS[name]} of {length_text(span.nominal)}."
                ),
            )


def _of_shape(gland: Gland) -> Iterator[Problem]:
    """Yield inside and outside swapped, and a groove wider than its bore."""
    if not gland.is_radial:
        return
    resting, facing = gland.resting.nominal, gland.facing.nominal
    if resting >= facing:
        yield (
            gland.resting_name,
            (
                f"A {WORDS[gland.resting_name]} of {length_text(resting)} does not go into a bore "
                f"of {length_text(facing)} with a ring round it: are inside and outside swapped?"
            ),
        )
    if gland.width is not None and gland.width.nominal >= facing:
        yield (
            "groove_width",
            (
                f"A groove {length_text(gland.width.nominal)} wide is wider than its bore of "
                f"{length_text(facing)}: an O-ring's groove is about one and a half sections wide."
            ),
        )


def _of_extremes(inputs: Inputs, gland: Gland) -> Iterator[Problem]:
    """Yield tolerances under which the gap could close."""
    if gland.twice_gap_span.least > 0:
        return
    larger = max(gland.resting_name, gland.facing_name, key=lambda name: _tolerance(inputs, name))
    yield (
        _tolerance_name(inputs, larger),
        (
            f"With these tolerances a {WORDS[gland.resting_name]} of up to "
            f"{length_text(gland.resting.most)} would fill a bore of "
            f"{length_text(gland.facing.least)} or more: no gap is left for a ring."
        ),
    )


def _of_corners(gland: Gland) -> Iterator[Problem]:
    """Yield corners that would meet each other."""
    radius = gland.corner_radius_nanometres
    width_least = None if gland.width is None else gland.width.least
    if radius == 0:
        return
    if 2 * radius >= gland.twice_gap_span.least or (
        width_least is not None and 2 * radius >= width_least
    ):
        yield (
            "corner_radius",
            f"Corners of {length_text(radius)} do not go into so small a groove.",
        )
