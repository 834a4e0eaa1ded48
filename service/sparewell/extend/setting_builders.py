"""Builders of settings: one for each type, so that a plugin's list of numbers reads as a list.

Each takes the name, the title and the default, then the source and a help text. Lengths and numbers
are written as a person would write them ("0.9 mm", "1/32 in", "2.5"). A default of None makes the
setting nullable: its help text says what null means.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Final

from sparewell.extend.fields import FieldType, Setting
from sparewell.measure.length import parse_length

COMMON_PRACTICE: Final = "common practice, no source"

Written = str | int | Decimal


def length_setting(
    name: str,
    title: str,
    default: str | None,
    source: str = COMMON_PRACTICE,
    help_text: str = "",
    *,
    least: str = "0",
    most: str = "20 mm",
) -> Setting:
    """Return a setting that is a length; a bare number is millimetres."""
    return Setting(
        name=name,
        title=title,
        type=FieldType.LENGTH,
        default=None if default is None else _nanometres(default),
        source=source,
        unit="mm",
        help=help_text,
        minimum=_nanometres(least),
        maximum=_nanometres(most),
        nullable=default is None,
    )


def lengths_setting(
    name: str,
    title: str,
    defaults: Iterable[str],
    source: str = COMMON_PRACTICE,
    help_text: str = "",
) -> Setting:
    """Return a setting that is a list of lengths, such as the punches in the workshop."""
    return Setting(
        name=name,
        title=title,
        type=FieldType.LENGTHS,
        default=tuple(_nanometres(each) for each in defaults),
        source=source,
        unit="mm",
        help=help_text,
    )


def number_setting(
    name: str,
    title: str,
    default: Written | None,
    source: str = COMMON_PRACTICE,
    help_text: str = "",
    *,
    unit: str = "",
    least: Written = 0,
    most: Written = 100,
) -> Setting:
    """Return a setting that is a number, kept exactly as it is written."""
    return Setting(
        name=name,
        title=title,
        type=FieldType.NUMBER,
        default=None if default is None else Decimal(default),
        source=source,
        unit=unit,
        help=help_text,
        minimum=Decimal(least),
        maximum=Decimal(most),
        nullable=default is None,
    )


def percent_setting(
    name: str,
    title: str,
    default: Written,
    source: str = COMMON_PRACTICE,
    help_text: str = "",
    *,
    most: Written = 200,
) -> Setting:
    """Return a setting that is a share in percent; more than 100 % can be one too."""
    return number_setting(name, title, default, source, help_text, unit="%", most=most)


def count_setting(
    name: str,
    title: str,
    default: int,
    source: str = COMMON_PRACTICE,
    help_text: str = "",
    *,
    unit: str,
    least: int = 1,
    most: int,
) -> Setting:
    """Return a setting that counts whole things; `unit` says which: "days", "sizes"."""
    return Setting(
        name=name,
        title=title,
        type=FieldType.INTEGER,
        default=default,
        source=source,
        unit=unit,
        help=help_text,
        minimum=least,
        maximum=most,
    )


def choice_setting(
    name: str,
    title: str,
    default: str,
    source: str = COMMON_PRACTICE,
    help_text: str = "",
    *,
    choices: Iterable[str],
) -> Setting:
    """Return a setting that is one of a few words."""
    return Setting(
        name=name,
        title=title,
        type=FieldType.CHOICE,
        default=default,
        source=source,
        help=help_text,
        choices=tuple(choices),
    )


def flag_setting(
    name: str, title: str, source: str = COMMON_PRACTICE, help_text: str = ""
) -> Setting:
    """Return a setting that is on, and that a workshop may switch off."""
    return Setting(
        name=name, title=title, type=FieldType.FLAG, default=True, source=source, help=help_text
    )


def text_setting(
    name: str, title: str, default: str, source: str = COMMON_PRACTICE, help_text: str = ""
) -> Setting:
    """Return a setting that is a text."""
    return Setting(
        name=name, title=title, type=FieldType.TEXT, default=default, source=source, help=help_text
    )


def _nanometres(length: str) -> int:
    return parse_length(length, zero_allowed=True)
