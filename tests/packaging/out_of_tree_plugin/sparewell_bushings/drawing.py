"""The bush seen along the pin. The units of the picture are millimetres of the pen."""

from __future__ import annotations

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, length_text

SCALE = 20  # the picture is so many times as large as the bush


def draw(outside: int, inside: int, pin: int) -> str:
    """Return an SVG document; each circle's diameter is the number itself."""
    side = outside + 2 * NANOMETRES_PER_MILLIMETRE
    page = f'width="{_mm(SCALE * side)}mm" height="{_mm(SCALE * side)}mm"'
    circles = "".join(
        f'<circle class="{name}" fill="{fill}" cx="{_mm(side / 2)}" cy="{_mm(side / 2)}" '
        f'r="{_mm(diameter / 2)}"/>'
        for name, fill, diameter in (
            ("bush", "#c9a24b", outside),
            ("bore", "#ffffff", inside),
            ("pin", "#8d97a0", pin),
        )
    )
    words = f"bush {length_text(outside)} outside, {length_text(inside)} inside; {SCALE} : 1"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" {page} '
        f'viewBox="0 0 {_mm(side)} {_mm(side)}"><title>{words}</title>{circles}</svg>'
    )


def _mm(nanometres: float) -> str:
    return f"{nanometres / NANOMETRES_PER_MILLIMETRE:.7f}".rstrip("0").rstrip(".")
