"""How the pages write lengths, moments, names and links."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from fractions import Fraction
from typing import Any, Final
from urllib.parse import urlencode

from flask import Blueprint
from markupsafe import Markup, escape

from sparewell.measure.wording import megabytes_text

_SIXTY_FOURTH_MILLIMETRES = Fraction(396875, 1_000_000)

# The stem alone, so that "lots" is said too; a "lot of" something stays as it is.
_LOT = re.compile(r"\b[Ll]ot(?=s?\b)(?! of )")

NOTHING: Final = "\N{EN DASH}"

# What a page says first after a form, by the word in its address.
SAID: Final[Mapping[str, str]] = {
    "reserved": "Reserved.",
    "fetched": "In the tray.",
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
    for use in (millimetres, spoken, pair, moment, day, plain, svg, megabytes):
        blueprint.add_app_template_filter(use, f"bench_{use.__name__}")
    blueprint.add_app_template_global(link, "bench_link")


def plain(value: Any) -> str:
    """Write a value as it is said: no trailing zeros, yes and no, nothing for nothing."""
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    return str(value)


def millimetres(value: float | None) -> str:
    """Write millimetres."""
    return NOTHING if value is None else f"{plain(value)} mm"


def sixty_fourths(value: float) -> str:
    """Write millimetres as 64ths of an inch, to the tenth, as sacs are numbered."""
    return f"{float(Fraction(str(value)) / _SIXTY_FOURTH_MILLIMETRES):.1f}/64 in"


def bags(text: str) -> str:
    """Say what the API says of a lot as these pages do: a bag."""
    return _LOT.sub(lambda found: "Bag" if found[0][0] == "L" else "bag", text)


def spoken(name: str) -> str:
    """Write a name of the program as words."""
    return name.replace("_", " ")


def pair(name: str) -> tuple[str, str]:
    """Return a choice and how it is said."""
    return name, spoken(name)


def moment(text: str | None) -> Markup:
    """Write a moment as people here say it; the script says it in the browser's own zone."""
    if not text:
        return escape(NOTHING)
    local = datetime.fromisoformat(text).astimezone()
    shown = local.strftime("%a %d %b %Y, %H:%M")
    return Markup("<time datetime='{}'>{}</time>").format(escape(text), shown)


def day(text: str | None) -> str:
    """Write a day."""
    return NOTHING if not text else datetime.fromisoformat(text).strftime("%d %b %Y").lstrip("0")


def megabytes(size_bytes: int) -> str:
    """Write the size of a file."""
    return megabytes_text(size_bytes)


def svg(drawing: str) -> Markup:
    """Let a drawing of a calculator stand in the page; the policy keeps scripts in it from running.

    The calculators run in this very process, so their drawings are trusted as they are.
    """
    return Markup(drawing)  # noqa: S704 - made by an installed plugin


def link(path: str, **query: Any) -> str:
    """Return an address with its query; what is None or empty is left out."""
    said = {name: value for name, value in query.items() if value not in {None, ""}}
    return f"{path}?{urlencode(said)}" if said else path
