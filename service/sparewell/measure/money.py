"""Money: a decimal text outside, a whole number of the smallest unit inside.

The service knows one currency, the workshop's own, with two decimals; amounts carry no sign of
it. A lot keeps the total that was paid for the pieces still in it, so nothing is lost to a
rounded price for each: see :func:`take_share`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate, pairwise

MINOR_PER_MAJOR = 100
LARGEST_MAJOR = 1_000_000_000
LONGEST_TEXT_CHARACTERS = 40
MOST_DIGITS = 40
_LEAST_POWER_OF_TEN = -2

ACCEPTED_MONEY = (
    "Accepted is an amount of zero or more with at most two decimals, without currency sign or "
    "thousands sign, up to 1000000000: 8.50 or 8,50 or 8."
)

_AMOUNT = re.compile(r"(?P<major>[0-9]*)(?:[.,](?P<minor>[0-9]{1,2}))?")
_TOO_FINE = re.compile(r"[0-9]*[.,][0-9]{3,}")


class MoneyError(ValueError):
    """A value that is no amount; the message says what was wrong and what is accepted."""


def parse_money(value: object) -> int:
    """Return the amount in the smallest unit (hundredths) from a text, an int or a Decimal.

    `MoneyError` is raised for negative amounts, more than two decimals, more than
    `LARGEST_MAJOR`, and anything that is not an exact number: floats are refused, since a
    binary fraction is no price.
    """
    if isinstance(value, str):
        minor = _minor_of_text(value)
    elif isinstance(value, Decimal):
        minor = _minor_of_decimal(value)
    elif isinstance(value, int) and not isinstance(value, bool):
        if value < 0:
            raise _refused("The amount is negative")
        minor = value * MINOR_PER_MAJOR
    else:
        raise _refused(
            f"An amount is a text or a decimal number, not the type {type(value).__name__}"
        )
    if minor > LARGEST_MAJOR * MINOR_PER_MAJOR:
        raise _too_large()
    return minor


def money_text(minor: int) -> str:
    """Return an amount of the smallest unit as decimal text, such as "8.50"."""
    major, part = divmod(abs(minor), MINOR_PER_MAJOR)
    return f"{'-' if minor < 0 else ''}{major}.{part:02d}"


def take_share(total: int, pieces: int, taken: int) -> int:
    """Return what `taken` of the `pieces` carry of their `total`, in the smallest unit.

    The share is rounded down, and the pieces that stay keep the rest; whoever takes the last of
    them takes the remainder. So the shares of any sequence of takes add up to the total, provided
    that each take is given what the one before left. `ValueError` when there are no such pieces.
    """
    if total < 0:
        raise ValueError(f"a total is not negative: {total}")
    if not 0 <= taken <= pieces or pieces == 0:
        raise ValueError(f"{taken} of {pieces} pieces cannot be taken")
    return total * taken // pieces


def shares(total: int, weights: Sequence[int]) -> list[int]:
    """Return a total divided by weights, in the smallest unit; the shares add up to it exactly.

    Each is within one unit of its exact share: what is lost to rounding is spread over all of them.
    `ValueError` where nothing weighs anything.
    """
    whole = sum(weights)
    if whole <= 0 or total < 0 or any(weight < 0 for weight in weights):
        raise ValueError(f"{total} cannot be divided by {weights}")
    reached = [total * weight // whole for weight in accumulate(weights)]
    return [here - before for before, here in pairwise([0, *reached])]


def _minor_of_text(text: str) -> int:
    if len(text) > LONGEST_TEXT_CHARACTERS:
        raise _refused(
            f"An amount has at most {LONGEST_TEXT_CHARACTERS} characters, this has {len(text)}"
        )
    plain = text.strip(" \N{NO-BREAK SPACE}")
    if not plain:
        raise _refused("The amount is empty")
    if plain.startswith(("-", "\N{MINUS SIGN}")):
        raise _refused(f"{text!r} is negative")
    if _TOO_FINE.fullmatch(plain):
        raise _refused(f"{text!r} has more than two decimals")
    amount = _AMOUNT.fullmatch(plain)
    if amount is None:
        raise _refused(f"{text!r} is not an amount")
    return int(amount["major"] or 0) * MINOR_PER_MAJOR + int((amount["minor"] or "0").ljust(2, "0"))


def _minor_of_decimal(value: Decimal) -> int:
    if not value.is_finite():
        raise _refused("The amount is not a finite number")
    if value.is_zero():
        return 0
    if value.is_signed():
        raise _refused("The amount is negative")
    # Compared by power of ten before any arithmetic, which would write the number out.
    if value.adjusted() > Decimal(LARGEST_MAJOR).adjusted():
        raise _too_large()
    if len(value.as_tuple().digits) > MOST_DIGITS:
        raise _refused(f"The amount has more than {MOST_DIGITS} digits")
    if value.adjusted() < _LEAST_POWER_OF_TEN:
        raise _refused("The amount has more than two decimals")
    # As a fraction, because decimal arithmetic rounds to the precision of its context.
    minor = Fraction(value) * MINOR_PER_MAJOR
    if minor.denominator != 1:
        raise _refused(f"{value} has more than two decimals")
    return minor.numerator


def _too_large() -> MoneyError:
    return _refused(f"The amount is above {LARGEST_MAJOR}")


def _refused(what_was_wrong: str) -> MoneyError:
    return MoneyError(f"{what_was_wrong}. {ACCEPTED_MONEY}")
