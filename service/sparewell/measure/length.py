"""Exact lengths: whole nanometres inside, every spelling of the bench at the edge.

A text is read in four steps, each of which refuses with its own sentence:

1. size and alphabet    at most 40 characters, all of them ones that a length can have
2. split                the number in front, the unit behind it
3. number               decimal, fraction or mixed number, as an exact rational
4. nanometres           times the unit, within the limits, rounded half-even

Nothing is normalised wholesale: Unicode's compatibility forms turn "1½" into "11/2" and "7²"
into "72", so each character beyond ASCII is listed here or refused.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from unicodedata import normalize

from sparewell.measure.rounding import rounded_quotient, scaled_text

NANOMETRES_PER_MILLIMETRE = 1_000_000
NANOMETRES_PER_INCH = 25_400_000
NANOMETRES_PER_64TH = 396_875
LONGEST_NANOMETRES = 1_000_000_000

LONGEST_TEXT_CHARACTERS = 40
MOST_DIGITS = 40
_LONGEST_MILLIMETRES = LONGEST_NANOMETRES // NANOMETRES_PER_MILLIMETRE

ACCEPTED_LENGTHS = (
    "Accepted are millimetres as a number or a text (7.1 or 7,1 or 7.1 mm), or a text with its "
    'unit: 0.281 in, 9/32 in, 15.5/64", 1 1/4 in, 1½ in, 0.7 cm, 70 thou, 250 µm; '
    "more than zero and at most one metre."
)

_NANOMETRES_BY_UNIT: MappingProxyType[str, int] = MappingProxyType(
    {
        unit: factor
        for factor, units in (
            (1_000, "um micron microns micrometre micrometres micrometer micrometers"),
            (25_400, "thou"),
            (NANOMETRES_PER_MILLIMETRE, "mm millimetre millimetres millimeter millimeters"),
            (10_000_000, "cm centimetre centimetres centimeter centimeters"),
            (NANOMETRES_PER_INCH, "in inch inches \" ''"),
        )
        for unit in units.split()
    }
)

_VULGAR_FRACTIONS: MappingProxyType[str, Fraction] = MappingProxyType(
    {
        sign: Fraction(normalize("NFKC", sign).replace("\N{FRACTION SLASH}", "/"))
        for sign in "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒"
    }
)
_VULGAR = "".join(_VULGAR_FRACTIONS)

# Look-alikes that mean the same thing in any length, and what they are read as. The spaces are
# U+00A0, U+2002 to U+200A and U+202F: keyboards and web pages put them between number and unit.
_LOOK_ALIKES = str.maketrans(
    {
        **dict.fromkeys((0xA0, *range(0x2002, 0x200B), 0x202F), " "),
        **dict.fromkeys("\N{DOUBLE PRIME}\N{MODIFIER LETTER DOUBLE PRIME}", '"'),
        **dict.fromkeys("\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}", '"'),
        **dict.fromkeys("\N{PRIME}\N{RIGHT SINGLE QUOTATION MARK}", "'"),
        **dict.fromkeys("\N{FRACTION SLASH}\N{DIVISION SLASH}", "/"),
        **dict.fromkeys("\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{MINUS SIGN}", "-"),
        **dict.fromkeys("\N{MICRO SIGN}\N{GREEK SMALL LETTER MU}", "u"),
    }
)

_FOREIGN_CHARACTER = re.compile(rf"[^ -~{_VULGAR}]")
_FRONT = re.compile(rf"(?P<number>[0-9.,/ {_VULGAR}-]*)(?P<unit>.*)")
_DECIMAL = re.compile(r"[0-9]*[.,]?[0-9]+")
_MIXED = re.compile(r"(?:(?P<whole>[0-9]+)[ -])?(?P<over>[0-9]+) ?/ ?(?P<under>[0-9]+)")
# Sacs are numbered in 64ths of an inch, half sizes too; over any other number it is a slip.
_DECIMAL_64THS = re.compile(r"(?P<over>[0-9]+)(?P<half>[.,][0-9]+|½) ?/ ?64")
_MIXED_VULGAR = re.compile(rf"(?:(?P<whole>[0-9]+)[ -]?)?(?P<vulgar>[{_VULGAR}])")
_POSSIBLY_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_EXPONENT = re.compile(r"e *[+-]? *[0-9]")


class LengthError(ValueError):
    """A value that is no length; the message says what was wrong and what is accepted."""


def parse_length(value: object, *, zero_allowed: bool = False) -> int:
    """Return the length in whole nanometres.

    Numbers (int, Decimal, Fraction, float) and texts without a unit are millimetres; other texts
    carry their unit. Finer than a nanometre rounds half-even, once, on the exact rational.
    `LengthError` is raised for anything else: not a length, negative, zero (unless
    `zero_allowed`), a trace that rounds to zero, or longer than a metre.
    """
    if isinstance(value, str):
        return _within_limits(_nanometres_of_text(value), repr(value), zero_allowed=zero_allowed)
    if isinstance(value, float):
        # The shortest text that gives this float back is what the sender wrote.
        value = Decimal(float.__repr__(value))
    if isinstance(value, Decimal):
        exact = _millimetres_of_decimal(value)
    elif isinstance(value, int | Fraction) and not isinstance(value, bool):
        exact = _millimetres_of_rational(Fraction(value))
    else:
        raise _refused(f"A length is a number or a text, not {_name_of_type(value)}")
    exact *= NANOMETRES_PER_MILLIMETRE
    return _within_limits(exact, str(value), zero_allowed=zero_allowed)


def millimetres(nanometres: int) -> float:
    """Return the JSON number of millimetres; up to a metre its shortest form is exact."""
    return nanometres / NANOMETRES_PER_MILLIMETRE


def length_text(nanometres: int) -> str:
    """Return the exact length in millimetres such as "6.4 mm"; a margin may be negative."""
    return f"{scaled_text(nanometres, 6)} mm"


def length_in_all_units(nanometres: int) -> str:
    """Return "6.4 mm = 0.252 in = 16.13/64 in": exact millimetres, the others rounded."""
    inches = _visible_text(Fraction(nanometres, NANOMETRES_PER_INCH), 3)
    parts = _visible_text(sixty_fourths(nanometres), 2)
    return f"{length_text(nanometres)} = {inches} in = {parts}/64 in"


def sixty_fourths(nanometres: int) -> Fraction:
    """Return the exact number of sixty-fourths of an inch."""
    return Fraction(nanometres, NANOMETRES_PER_64TH)


def likely_slip(nanometres: int, low: int, high: int, *, name: str = "") -> str | None:
    """Return a warning when the length is outside what is usual, else None; never a refusal.

    `low` and `high` are the usual bounds in nanometres, both inside. The warning ends with the
    first of these readings that lands inside them, or with none: a decimal point one place off
    (times ten, then a tenth), inches given as millimetres, millimetres given as inches, and a
    whole number of sixty-fourths given as millimetres. `ValueError` when the bounds are crossed.
    """
    if low > high:
        raise ValueError(f"usual bounds are crossed: {low} nm is above {high} nm")
    if low <= nanometres <= high:
        return None
    subject = f"{name} of {length_text(nanometres)}" if name else length_text(nanometres)
    finding = f"{subject} is outside the usual {length_text(low)} to {length_text(high)}"
    meant = _meant(nanometres, low, high)
    return f"{finding}." if meant is None else f"{finding}: did you mean {meant[1]}?"


def likely_meant(nanometres: int, low: int, high: int) -> int | None:
    """Return what a length outside the usual was likely meant to be, else None."""
    if low <= nanometres <= high:
        return None
    meant = _meant(nanometres, low, high)
    return None if meant is None else round(meant[0])


def _meant(nanometres: int, low: int, high: int) -> tuple[Fraction | int, str] | None:
    """Return the first reading of a length that lands inside the bounds, as a length and a text."""
    for guess, guess_text in _slips(nanometres):
        if guess > 0 and low <= guess <= high:
            return guess, guess_text
    return None


def _slips(nanometres: int) -> list[tuple[Fraction | int, str]]:
    """Return what may have been meant, in nanometres and as text, the likeliest first."""
    in_millimetres = Fraction(nanometres, NANOMETRES_PER_MILLIMETRE)
    tenth = round(Fraction(nanometres, 10))
    # Given as inches: the same digits were meant as millimetres, to the micrometre.
    as_millimetres = round(Fraction(nanometres * 1_000, NANOMETRES_PER_INCH)) * 1_000
    slips: list[tuple[Fraction | int, str]] = [
        (nanometres * 10, length_text(nanometres * 10)),
        (tenth, length_text(tenth)),
        (in_millimetres * NANOMETRES_PER_INCH, f"{_decimal_text(in_millimetres, 6)} in"),
        (as_millimetres, length_text(as_millimetres)),
    ]
    if in_millimetres.denominator == 1:
        slips.append((in_millimetres * NANOMETRES_PER_64TH, f"{in_millimetres}/64 in"))
    return slips


def _nanometres_of_text(text: str) -> Fraction:
    """Return the exact nanometres of a text, of either sign; steps 1 to 4 of the module."""
    if len(text) > LONGEST_TEXT_CHARACTERS:
        raise _refused(
            f"A length has at most {LONGEST_TEXT_CHARACTERS} characters, this text has {len(text)}"
        )
    plain = text.translate(_LOOK_ALIKES)
    if foreign := _FOREIGN_CHARACTER.search(plain):
        only = " (only the digits 0 to 9 are read)" if foreign.group().isnumeric() else ""
        raise _refused(f"{text!r} has the character {foreign.group()!r} in it{only}")
    plain = " ".join(plain.split())
    if not plain:
        raise _refused("The length is empty")
    front = _FRONT.fullmatch(plain)
    if front is None or not front["number"].strip():
        raise _refused(f"{text!r} does not begin with a number")
    number, unit = front["number"].strip(), front["unit"].lower()
    factor = _nanometres_of_unit(unit, text)
    magnitude = number.removeprefix("-").lstrip()
    exact = _number(magnitude, text)
    if not unit and not _DECIMAL.fullmatch(magnitude):
        raise _refused(f"{text!r} is a fraction without a unit: add in or mm")
    if factor < NANOMETRES_PER_MILLIMETRE and _POSSIBLY_THOUSANDS.fullmatch(magnitude):
        # In the larger units the thousands would be a metre or more, so the comma is a decimal.
        raise _refused(f"{text!r} can be read as thousands or as decimals: write it without comma")
    return exact * factor * (-1 if number.startswith("-") else 1)


def _nanometres_of_unit(unit: str, text: str) -> int:
    """Return the nanometres of a unit in small letters; none at all is millimetres."""
    if not unit:
        return NANOMETRES_PER_MILLIMETRE
    word = unit.removesuffix(".")
    factor = _NANOMETRES_BY_UNIT.get(word if word.isalpha() else unit)
    if factor is not None:
        return factor
    if word in {"mil", "mils"}:
        raise _refused(
            f"{text!r} is in mil, which is said for a thousandth of an inch and for a millimetre: "
            "write thou or mm"
        )
    if _EXPONENT.match(unit):
        raise _refused(f"{text!r} has a power of ten in it: write the number out")
    raise _refused(f"{text!r} is in {unit!r}, which is no known unit")


def _number(magnitude: str, text: str) -> Fraction:
    """Return the exact value of a number without sign."""
    if _DECIMAL.fullmatch(magnitude):
        return Fraction(magnitude.replace(",", "."))
    if mixed := _MIXED_VULGAR.fullmatch(magnitude):
        return int(mixed["whole"] or 0) + _VULGAR_FRACTIONS[mixed["vulgar"]]
    if numbered := _DECIMAL_64THS.fullmatch(magnitude):
        half = numbered["half"].replace(",", ".").replace("½", ".5")
        return Fraction(numbered["over"] + half) / 64
    mixed = _MIXED.fullmatch(magnitude)
    if mixed is None:
        raise _refused(f"{text!r} {_why_no_number(magnitude)}")
    over, under = int(mixed["over"]), int(mixed["under"])
    if under == 0:
        raise _refused(f"{text!r} divides by zero")
    if mixed["whole"] and over >= under:
        raise _refused(f"{text!r} has a fraction of one or more behind its whole number")
    return int(mixed["whole"] or 0) + Fraction(over, under)


def _why_no_number(magnitude: str) -> str:
    """Return the end of the sentence about a number that is none."""
    separators = magnitude.count(".") + magnitude.count(",")
    if "." in magnitude and "," in magnitude:
        return "has a point and a comma in it, so either may be the decimal sign"
    if separators > 1:
        return "has more than one decimal sign"
    if separators and re.search(rf"[/{_VULGAR}]", magnitude):
        return "mixes a decimal number with a fraction"
    if re.fullmatch(r"[0-9.,]+(?:[ -]+[0-9.,]+)+", magnitude):
        return "has more than one number in it"
    return "has no number that can be read"


def _millimetres_of_decimal(value: Decimal) -> Fraction:
    """Return the exact value, looking at the power of ten before anything is written out."""
    if not value.is_finite():
        raise _refused("The number is not finite")
    if value.is_zero():
        return Fraction(0)
    if value.adjusted() > Decimal(_LONGEST_MILLIMETRES).adjusted():
        raise _negative() if value.is_signed() else _too_long()
    if len(value.as_tuple().digits) > MOST_DIGITS:
        raise _refused(f"The number has more than {MOST_DIGITS} digits")
    if value.adjusted() < -MOST_DIGITS:
        # Far below a nanometre: any trace of the same sign stands for it.
        return Fraction(-1 if value.is_signed() else 1, 10**MOST_DIGITS)
    return Fraction(value)


def _millimetres_of_rational(value: Fraction) -> Fraction:
    """Return the value; one too long to be shown in a message is refused without showing it."""
    if abs(value) > _LONGEST_MILLIMETRES:
        raise _negative() if value < 0 else _too_long()
    if value.denominator >= 10**MOST_DIGITS:
        raise _refused(f"The number has more than {MOST_DIGITS} digits")
    return value


def _within_limits(exact: Fraction, shown: str, *, zero_allowed: bool) -> int:
    """Return the exact nanometres rounded half-even, or refuse what is no length of a piece."""
    if exact < 0:
        raise _negative(shown)
    if exact > LONGEST_NANOMETRES:
        raise _too_long(shown)
    nanometres = round(exact)
    if nanometres == 0 and not zero_allowed:
        if exact == 0:
            raise _refused(f"{shown} is zero, and this length must be more than zero")
        raise _refused(f"{shown} is too small: it rounds to zero nanometres")
    return nanometres


def _negative(shown: str = "The number") -> LengthError:
    return _refused(f"{shown} is negative, and a length is not")


def _too_long(shown: str = "The number") -> LengthError:
    return _refused(f"{shown} is longer than one metre")


def _refused(what_was_wrong: str) -> LengthError:
    return LengthError(f"{what_was_wrong}. {ACCEPTED_LENGTHS}")


def _name_of_type(value: object) -> str:
    """Return the JSON word for a value that is neither number nor text."""
    words = {type(None): "null", bool: "true or false", list: "a list", dict: "an object"}
    return words.get(type(value), f"the type {type(value).__name__}")


def _visible_text(value: Fraction, places: int) -> str:
    """Return the decimal text, with as many more places as a small length needs to be seen."""
    while value and not _scaled(value, places):
        places += 1
    return _decimal_text(value, places)


def _decimal_text(value: Fraction, places: int) -> str:
    """Return the value rounded half-even to so many places, without trailing zeros."""
    return scaled_text(_scaled(value, places), places)


def _scaled(value: Fraction, places: int) -> int:
    return rounded_quotient(value.numerator * 10**places, value.denominator)
