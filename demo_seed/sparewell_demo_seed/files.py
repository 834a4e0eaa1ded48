"""Reading the data files that come with the package."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from importlib import resources
from typing import Any

from sparewell.measure.entered import EnteredLength
from sparewell.measure.length import parse_length

_FOLDER = resources.files(__package__)


def rows_of(name: str) -> list[dict[str, str]]:
    """Return the rows of a file of comma-separated values, by the names in its first line."""
    lines = _text_of(name).splitlines()
    return list(csv.DictReader(lines, strict=True))


def document_of(name: str) -> Any:
    """Return what a JSON file holds."""
    return json.loads(_text_of(name))


def lengths_in(text: str) -> dict[str, EnteredLength]:
    """Return the lengths of a cell such as "outside_diameter=15/64 in; length=75 mm"."""
    return dict(_lengths_in(text))


def _lengths_in(text: str) -> Iterator[tuple[str, EnteredLength]]:
    for item in filter(None, text.split("; ")):
        name, _, entered = item.partition("=")
        yield name, EnteredLength(parse_length(entered), entered)


def _text_of(name: str) -> str:
    return _FOLDER.joinpath(name).read_text(encoding="utf-8")
