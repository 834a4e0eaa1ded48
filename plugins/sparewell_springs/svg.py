"""What both drawings share: numbers in full, texts escaped, a page that names its scale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from html import escape
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, number_text

_PAPER: Final = Fraction(180)  # millimetres; fits the usual sheets with their margins
_SCALES: Final = (
    *(Fraction(scale) for scale in (10, 8, 6, 5, 4, 3, 2, 1)),
    *(Fraction(1, scale) for scale in (2, 5, 10)),
)
_TEXT: Final = Fraction(3)  # millimetres on the paper
_LINE: Final = Fraction(5)
MARGIN: Final = Fraction(6)


def scale_for(width: Fraction) -> Fraction:
    """Return the largest scale at which so many millimetres fit the paper."""
    usable = _PAPER - 2 * MARGIN
    return next((scale for scale in _SCALES if width * scale <= usable), _SCALES[-1])


def page(
    shapes: Iterable[str],
    captions: Sequence[str],
    *,
    width: Fraction,
    height: Fraction,
    scale: Fraction,
) -> str:
    """Return the document: `shapes` in millimetres from the corner inside the margin.

    The first caption is the title. All lengths are millimetres of the thing drawn.
    """
    words = [
        *captions,
        f"Scale {scale.numerator}:{scale.denominator} when printed at 100 %",
    ]
    margin, line = MARGIN / scale, _LINE / scale
    wide = max(width + 2 * margin, (_PAPER - 2 * MARGIN) / scale)
    high = height + 2 * margin + line * len(words)
    texts = (
        f'<text x="0" y="{plain(height + line * (number + 1))}">{escape(text)}</text>'
        for number, text in enumerate(words)
    )
    return "\n".join(
        (
            '<svg xmlns="http://www.w3.org/2000/svg" role="img" font-family="sans-serif"',
            f'font-size="{plain(_TEXT / scale)}" fill="#222222"',
            f'width="{plain(wide * scale)}mm" height="{plain(high * scale)}mm"',
            f'viewBox="{plain(-margin)} {plain(-margin)} {plain(wide)} {plain(high)}">',
            f"<title>{escape(words[0])}</title>",
            f"<desc>{escape('. '.join(words))}.</desc>",
            (
                f'<rect fill="#ffffff" x="{plain(-margin)}" y="{plain(-margin)}" '
                f'width="{plain(wide)}" height="{plain(high)}"/>'
            ),
            f'<g stroke-width="{plain(1 / (4 * scale))}">',
            *shapes,
            "</g>",
            *texts,
            "</svg>",
        )
    )


def box(
    name: str, look: str, left: Fraction, top: Fraction, size: tuple[Fraction, Fraction]
) -> str:
    """Return a rectangle; `size` is its width and height."""
    return (
        f'<rect class="{name}" {look} x="{plain(left)}" y="{plain(top)}" '
        f'width="{plain(size[0])}" height="{plain(size[1])}"/>'
    )


def circle(name: str, look: str, x: Fraction, y: Fraction, radius: Fraction) -> str:
    """Return a circle."""
    return f'<circle class="{name}" {look} cx="{plain(x)}" cy="{plain(y)}" r="{plain(radius)}"/>'


def in_millimetres(nanometres: int | Fraction) -> Fraction:
    """Return millimetres."""
    return Fraction(nanometres) / NANOMETRES_PER_MILLIMETRE


def plain(millimetres: Fraction) -> str:
    """Return the number to a tenth of a nanometre, without trailing zeros."""
    return number_text(millimetres, 7)
