"""How the pages write lengths, moments, names and links."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Final
from urllib.parse import urlencode

from flask import Blueprint
from markupsafe import Markup, escape

from sparewell.edge.fields import rfc3339
from sparewell.measure.money import money_text
from sparewell.measure.wording import megabytes_text

_SIXTY_FOURTH_MILLIMETRES = Fraction(396875, 1_000_000)

NOTHING: Final = "\N{EN DASH}"

# What a page says first after a form, by the word in its address.
SAID: Final[Mapping[str, str]] = {
    "reserved": "Reserved.",
    "fetched": "In the tray.",
    "read": "Noted as read.",
    "used": "Noted as fitted.",
    "released": "Given back.",
    "spoiled": "Noted as ruined at fitting. The job asks for another one.",
    "undone": "Undone.",
    "measured": "Readings noted.",
    "photographed": "The photograph is kept.",
    "opened": "The job is open.",
    "waits": "The timer runs.",
    "ready": "The timer is ended.",
    "step": "Noted.",
    "decided": "Noted.",
    "closed": "The job is closed.",
    "cancelled": "The job is cancelled, and what was promised to it is free.",
    "counted": "Counted.",
    "received": "Put away.",
    "moved": "Moved.",
    "discarded": "Thrown away, and noted.",
    "stripped": "Taken out of the donor.",
    "looked": "Noted.",
    "changed": "Changed.",
    "drawer": "The drawer is there.",
    "cut": "Cut, and noted.",
    "put-back": "Back in stock, as a bag of its own.",
    "donor": "Kept as a donor.",
    "added": "Added to its checklist.",
}


def add_to(blueprint: Blueprint) -> None:
    """Let the templates of a blueprint use these words."""
    for use in (millimetres, spoken, pair, moment, day, plain, money, svg, megabytes):
        blueprint.add_app_template_filter(use, f"bench_{use.__name__}")
    blueprint.add_app_template_global(link, "bench_link")


def plain(value: object) -> str:
    """Write a value as it is said: no trailing zeros, yes and no, nothing for nothing."""
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | Decimal):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    return str(value)


def money(minor: int | None) -> str:
    """Write an amount; nothing for none, as a field that was left empty holds it."""
    return "" if minor is None else money_text(minor)


def millimetres(value: float | Decimal | None) -> str:
    """Write millimetres."""
    return NOTHING if value is None else f"{plain(value)} mm"


def sixty_fourths(value: float | Decimal) -> str:
    """Write millimetres as 64ths of an inch, to the tenth, as sacs are numbered."""
    return f"{float(Fraction(str(value)) / _SIXTY_FOURTH_MILLIMETRES):.1f}/64 in"


def spoken(name: str) -> str:
    """Write a name of the program as words."""
    return name.replace("_", " ")


def pair(name: str) -> tuple[str, str]:
    """Return a choice and how it is said."""
    return name, spoken(name)


def moment(at: datetime | None) -> Markup:
    """Write a moment as people here say it; the script says it in the browser's own zone."""
    if at is None:
        return escape(NOTHING)
    shown = at.astimezone().strftime("%a %d %b %Y, %H:%M")
    return Markup("<time datetime='{}'>{}</time>").format(rfc3339(at), shown)


def day(of: date | None) -> str:
    """Write a day."""
    return NOTHING if of is None else of.strftime("%d %b %Y").lstrip("0")


def megabytes(size_bytes: int) -> str:
    """Write the size of a file."""
    return megabytes_text(size_bytes)


def svg(drawing: str) -> Markup:
    """Let a drawing of a calculator stand in the page; the policy keeps scripts in it from running.

    The calculators run in this very process, so their drawings are trusted as they are.
    """
    return Markup(drawing)  # noqa: S704 - made by an installed plugin


def link(path: str, **query: object) -> str:
    """Return an address with its query; what is None or empty is left out."""
    said = {name: value for name, value in query.items() if value not in {None, ""}}
    return f"{path}?{urlencode(said)}" if said else path
