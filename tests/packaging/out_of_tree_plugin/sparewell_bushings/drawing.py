"""The bush seen along the pin, twenty times as large as it is."""

from __future__ import annotations

from sparewell.plugin import Drawing, Look, in_millimetres, length_text

SCALE = 20
BUSH = Look("bush", "#c9a24b")
BORE = Look("bore", "#ffffff")
PIN = Look("pin", "#8d97a0")


def draw(outside: int, inside: int, pin: int) -> str:
    """Return an SVG document; each circle's radius is the number itself."""
    picture = Drawing(SCALE)
    middle = in_millimetres(outside) / 2
    for look, diameter in ((BUSH, outside), (BORE, inside), (PIN, pin)):
        picture.circle(look, middle, middle, in_millimetres(diameter) / 2)
    caption = f"bush {length_text(outside)} outside, {length_text(inside)} inside"
    return picture.captioned([caption], 2 * middle, 2 * middle)
