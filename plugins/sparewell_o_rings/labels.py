"""The number on a packet of rings: a size of a standard, or the two dimensions themselves."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Final

from sparewell.plugin import parse_length
from sparewell_o_rings.tables import SIZE_TABLES

_STANDARD: Final = re.compile(
    r"\b(as ?568[a-f]?|iso ?3601(-1)?|jis ?b ?2401|bs ?4518)\b", re.IGNORECASE
)
_NOT_OF_THE_SIZE: Final = re.compile(r"[^0-9A-Z]")
_BOTH: Final = re.compile(
    r"([0-9]+(?:[.,][0-9]+)?) ?(?:mm)? ?[xX\u00d7*] ?([0-9]+(?:[.,][0-9]+)?) ?(?:mm)?"
)


def _plain(size: str) -> str:
    """Return a size without its standard, and without what people leave out or put in."""
    return _NOT_OF_THE_SIZE.sub("", _STANDARD.sub("", size).upper())


def _sizes() -> Iterator[tuple[str, Mapping[str, int]]]:
    """Yield every size of the tables by its plain text."""
    for table in SIZE_TABLES:
        for row in table.rows:
            inside, section = row["inside_diameter"], row["cross_section"]
            if isinstance(inside, int) and isinstance(section, int):
                size = {"inside_diameter": inside, "cross_section": section}
                yield _plain(str(row["size"])), size


# Where two tables have one text the first counts, as everywhere: AS568 goes before the others.
_BY_SIZE: Final = dict(reversed(list(_sizes())))


def read_label(text: str) -> Mapping[str, int]:
    """Return the inside diameter and the section that the text on a packet stands for."""
    both = _BOTH.fullmatch(text.strip())
    if both is None:
        return _BY_SIZE.get(_plain(text), {})
    inside, section = (parse_length(f"{each} mm") for each in both.groups())
    return {"inside_diameter": inside, "cross_section": section}
