"""Drawings to scale, as SVG documents that stand alone or in a page.

The units of a drawing are millimetres of the thing drawn, so that a circle's radius is the number
itself, to a tenth of a nanometre. Printed at 100 %, the paper shows it `scale` times as large. What
has to measure so much on the paper (a margin, a line, the height of a text) goes through
:meth:`Drawing.on_paper`.

A drawing brings its own white paper and dark ink, and each shape its own looks: so it reads alike
on a light page, on a dark page and in print, and no style sheet leaks into the page around it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from html import escape
from typing import Final

from sparewell.measure.length import NANOMETRES_PER_MILLIMETRE
from sparewell.measure.wording import number_text

# Millimetres on the paper. The width fits the usual sheets with their margins.
PAPER_WIDTH: Final = Fraction(180)
MARGIN: Final = Fraction(6)
LINE_HEIGHT: Final = Fraction(5)
TEXT_HEIGHT: Final = Fraction(3)
_THIN: Final = Fraction(1, 4)
_DASH: Final = Fraction(3, 2)

SCALES: Final = (
    *(Fraction(scale) for scale in (10, 8, 6, 5, 4, 3, 2, 1)),
    *(Fraction(1, scale) for scale in (2, 5, 10)),
)
INK: Final = "#222222"


@dataclass(frozen=True)
class Look:
    """How the shapes of one name are painted; `line` is millimetres on the paper."""

    name: str
    fill: str = "none"
    stroke: str = "none"
    line: Fraction = _THIN
    opacity: str = "1"
    dashed: bool = False


_PAPER: Final = Look("paper", "#ffffff")
_SCALE_BAR: Final = Look("scale", INK)


def largest_scale(
    width: Fraction,
    room: Fraction = PAPER_WIDTH - 2 * MARGIN,
    scales: Sequence[Fraction] = SCALES,
) -> Fraction:
    """Return the first scale at which so many millimetres fit the paper, or the last."""
    return next((scale for scale in scales if width * scale <= room), scales[-1])


def in_millimetres(nanometres: int | Fraction) -> Fraction:
    """Return exact millimetres."""
    return Fraction(nanometres) / NANOMETRES_PER_MILLIMETRE


class Drawing:
    """A drawing under way: shapes and texts lie over each other in the order they are added."""

    def __init__(self, scale: Fraction | int) -> None:
        self.scale = Fraction(scale)
        self._shapes: list[str] = []

    def on_paper(self, millimetres: Fraction | int) -> Fraction:
        """Return what measures so many millimetres on the paper."""
        return millimetres / self.scale

    @property
    def scale_words(self) -> str:
        """The scale in words, for a caption."""
        ratio = f"{self.scale.numerator}:{self.scale.denominator}"
        return f"Scale {ratio} when printed at 100 %"

    def circle(self, look: Look, x: Fraction, y: Fraction, radius: Fraction) -> None:
        """Add a circle."""
        self._shapes.append(self._element("circle", look, cx=x, cy=y, r=radius))

    def rectangle(
        self,
        look: Look,
        left: Fraction,
        top: Fraction,
        width: Fraction,
        height: Fraction,
        *,
        rounded: Fraction | None = None,
    ) -> None:
        """Add a rectangle; `rounded` is the radius of its corners."""
        corners = {} if rounded is None else {"rx": rounded}
        self._shapes.append(
            self._element("rect", look, x=left, y=top, width=width, height=height, **corners)
        )

    def line(
        self, look: Look, start: tuple[Fraction, Fraction], end: tuple[Fraction, Fraction]
    ) -> None:
        """Add a straight line."""
        (x1, y1), (x2, y2) = start, end
        self._shapes.append(self._element("line", look, x1=x1, y1=y1, x2=x2, y2=y2))

    def text(self, left: Fraction, base: Fraction, words: str, *, bold: bool = False) -> None:
        """Add one line of text, whatever signs it holds."""
        weight = ' font-weight="bold"' if bold else ""
        self._shapes.append(
            f'<text x="{_plain(left)}" y="{_plain(base)}"{weight}>{escape(words)}</text>'
        )

    def scale_bar(self, left: Fraction, top: Fraction, length: Fraction) -> None:
        """Add a bar of so many millimetres of the thing drawn, and the scale in words."""
        self.rectangle(_SCALE_BAR, left, top, length, self.on_paper(1))
        words = f"{_plain(length)} mm of the pen. {self.scale_words}"
        self.text(left, top + self.on_paper(LINE_HEIGHT), words)

    def captioned(self, captions: Sequence[str], width: Fraction, height: Fraction) -> str:
        """Return the document of shapes that begin at 0, 0, with captions and the scale below.

        The first caption is the title.
        """
        words = [*captions, self.scale_words]
        for number, caption in enumerate(words, start=1):
            self.text(Fraction(0), height + self.on_paper(LINE_HEIGHT * number), caption)
        margin = self.on_paper(MARGIN)
        wide = max(width + 2 * margin, self.on_paper(PAPER_WIDTH - 2 * MARGIN))
        high = height + 2 * margin + self.on_paper(LINE_HEIGHT * len(words))
        return self.document(words[0], ". ".join(words), wide, high, corner=-margin)

    def document(
        self,
        title: str,
        description: str,
        width: Fraction,
        height: Fraction,
        *,
        corner: Fraction = Fraction(0),
    ) -> str:
        """Return the SVG document; `corner` is where the paper begins, to the left and above."""
        paper = self._element("rect", _PAPER, x=corner, y=corner, width=width, height=height)
        wide, high = _plain(width * self.scale), _plain(height * self.scale)
        view = " ".join(_plain(number) for number in (corner, corner, width, height))
        return "\n".join(
            (
                '<svg xmlns="http://www.w3.org/2000/svg" role="img" font-family="sans-serif"',
                f'font-size="{_plain(self.on_paper(TEXT_HEIGHT))}" fill="{INK}"',
                f'stroke-width="{_plain(self.on_paper(_THIN))}"',
                f'width="{wide}mm" height="{high}mm" viewBox="{view}">',
                f"<title>{escape(title)}</title>",
                f"<desc>{escape(description)}.</desc>",
                paper,
                *self._shapes,
                "</svg>",
            )
        )

    def _element(self, element: str, look: Look, **numbers: Fraction) -> str:
        attributes = [f'class="{look.name}" fill="{look.fill}"']
        if look.opacity != "1":
            attributes.append(f'fill-opacity="{look.opacity}"')
        if look.stroke != "none":
            attributes.append(f'stroke="{look.stroke}"')
        if look.line != _THIN:
            attributes.append(f'stroke-width="{_plain(self.on_paper(look.line))}"')
        if look.dashed:
            attributes.append(f'stroke-dasharray="{_plain(self.on_paper(_DASH))}"')
        attributes += [f'{name}="{_plain(number)}"' for name, number in numbers.items()]
        return f"<{element} {' '.join(attributes)}/>"


def _plain(millimetres: Fraction) -> str:
    """Return the number to a tenth of a nanometre, without trailing zeros."""
    return number_text(millimetres, 7)
