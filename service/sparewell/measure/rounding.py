"""Rounding and writing exact numbers by whole numbers alone: a fit does it hundreds of times."""

from __future__ import annotations


def rounded_quotient(numerator: int, denominator: int) -> int:
    """Return the whole number nearest to a quotient, of two as near the even one."""
    whole, rest = divmod(numerator, denominator)
    beyond = 2 * rest - denominator
    return whole + (beyond > 0 or (beyond == 0 and whole % 2))


def scaled_text(scaled: int, places: int) -> str:
    """Return the decimal text of so many tenths, hundredths, …, without trailing zeros."""
    whole, part = divmod(abs(scaled), 10**places)
    sign = "-" if scaled < 0 else ""
    return f"{sign}{whole}.{part:0{places}d}".rstrip("0").rstrip(".") if part else f"{sign}{whole}"
