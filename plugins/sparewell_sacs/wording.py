"""How numbers are written in sentences: rounded for reading, never used to reckon with."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

from sparewell.plugin import number_text, rounded

# What each reading is called in the middle of a sentence.
READING_WORDS: Final = {
    "barrel_bore": "bore",
    "barrel_bore_tail": "bore at the tail",
    "guard_bore": "guard bore",
    "bar_height": "bar height",
    "bar_thickness": "bar thickness",
    "bar_width": "bar width",
    "ring_wire": "ring wire",
    "nipple_diameter": "nipple",
}


def size_text(size: Fraction | int) -> str:
    """Return a sac number, with its half as a sign: 15, 15½."""
    whole, rest = divmod(Fraction(size), 1)
    if rest == 0:
        return str(whole)
    return f"{whole}½" if rest == Fraction(1, 2) else number_text(Fraction(size), 2)


def a_size_text(size: Fraction | int) -> str:
    """Return a sac number with its article: a 15½, an 18."""
    text = size_text(size)
    return f"{'an' if re.match('8|11|18', text) else 'a'} {text}"


def size_number(size: Fraction | int) -> Decimal:
    """Return a sac number as the result carries it: 15, 15.5."""
    exact = Fraction(size)
    return Decimal(int(exact)) if exact.denominator == 1 else rounded(exact, 1)
