"""The spring cut open along its axis, to scale: free, and pressed solid."""

from __future__ import annotations

from fractions import Fraction
from math import floor
from typing import Final

from sparewell.plugin import (
    Drawing,
    Inputs,
    Look,
    in_millimetres,
    largest_scale,
    length_text,
    millimetres_text,
    number_text,
)
from sparewell_springs.readings import Spring, spring_of

MOST_COILS: Final = 200

_WIRE: Final = Look("wire", "#8d97a0", "#39424a")
_ROD: Final = Look("rod", "#c3d3dc", "#1d4355")
_BORE: Final = Look("bore", stroke="#5b5348")


def drawing(inputs: Inputs) -> str:
    """Return the SVG document, or raise ImpossibleInput."""
    spring = spring_of(inputs)
    free = spring.free_nanometres
    solid = in_millimetres(spring.solid_nanometres)
    lengths = [solid] if free is None else [max(in_millimetres(free), solid), solid]
    rod, bore = inputs.length("rod_diameter"), inputs.length("bore_diameter")
    outside = in_millimetres(max(spring.outside_nanometres, bore or 0))
    gap = outside / 2
    width = max(lengths)
    height = outside * len(lengths) + gap * (len(lengths) - 1)
    picture = Drawing(largest_scale(width))
    for number, length in enumerate(lengths):
        axis = outside / 2 + number * (outside + gap)
        for look, diameter in ((_BORE, bore), (_ROD, rod)):
            if diameter is not None:
                high = in_millimetres(diameter)
                picture.rectangle(look, Fraction(0), axis - high / 2, length, high)
        _draw_coils(picture, spring, length, axis)
    return picture.captioned(_captions(spring, rod, bore), width, height)


def _draw_coils(picture: Drawing, spring: Spring, length: Fraction, axis: Fraction) -> None:
    """Draw the wire where it is cut: above the axis at whole turns, below it at half ones."""
    radius = spring.wire / 2
    turns = min(floor(2 * spring.total_coils), 2 * MOST_COILS)
    is_solid = length == in_millimetres(spring.solid_nanometres)
    for half in range(turns + 1):
        share = Fraction(half, 2) / spring.total_coils
        if not is_solid:
            share = _along(spring, Fraction(half, 2)) / _along(spring, spring.total_coils)
        x = radius + (length - spring.wire) * share
        y = axis - spring.mean / 2 if half % 2 == 0 else axis + spring.mean / 2
        picture.circle(_WIRE, x, y, radius)


def _along(spring: Spring, turn: Fraction) -> Fraction:
    """Return how far along the spring a turn is: closed turns take a wire, open ones a pitch."""
    closed = Fraction(spring.end.dead, 2) if spring.end.name.startswith("squared") else Fraction(0)
    pitch = Fraction(spring.wire_nanometres)
    if spring.free_nanometres is not None:
        pitch = max(
            pitch,
            spring.end.pitch_nanometres(
                spring.free_nanometres, spring.wire_nanometres, spring.active_coils
            ),
        )
    last_open = spring.total_coils - closed
    first = min(turn, closed)
    middle = min(max(turn - closed, Fraction(0)), last_open - closed)
    last = max(turn - last_open, Fraction(0))
    return (first + last) * spring.wire_nanometres + middle * pitch


def _captions(spring: Spring, rod: int | None, bore: int | None) -> list[str]:
    """Return what is drawn, in numbers; the first line is the title."""
    captions = [
        (
            f"Spring of {length_text(spring.wire_nanometres)} wire, "
            f"{length_text(spring.outside_nanometres)} outside, "
            f"{number_text(spring.total_coils, 2)} coils, {spring.end.words} ends"
        )
    ]
    solid = f"Solid: {millimetres_text(spring.solid_nanometres)}"
    if spring.free_nanometres is not None:
        captions.append(f"Above free: {length_text(spring.free_nanometres)}. Below: {solid}")
    else:
        captions.append(solid)
    if spring.total_coils > MOST_COILS:
        captions.append(f"Only the first {MOST_COILS} coils are drawn")
    if rod is not None:
        captions.append(f"Rod {length_text(rod)}")
    if bore is not None:
        captions.append(f"Bore {length_text(bore)}")
    return captions
