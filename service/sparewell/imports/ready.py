"""What the rows of a checked file become, kept in few bytes until they are applied.

First a line of JSON that says something of them all, then, packed, a line for each row. They are
written and read row by row, so that a hundred thousand need no more room than one.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator, Mapping
from io import BytesIO
from typing import Any

_FASTEST = 1


class Packing:
    """Rows that are being packed."""

    def __init__(self) -> None:
        self._packed = BytesIO()
        self._rows = gzip.GzipFile(fileobj=self._packed, mode="wb", compresslevel=_FASTEST, mtime=0)

    def add(self, row: Mapping[str, Any]) -> None:
        """Add one more row."""
        self._rows.write(json.dumps(row).encode() + b"\n")

    def close(self, head: Mapping[str, Any]) -> bytes:
        """Return all of them, behind what is said of them all."""
        self._rows.close()
        return json.dumps(head).encode() + b"\n" + self._packed.getvalue()


def head_of(packed: bytes) -> dict[str, Any]:
    """Return what is said of all rows."""
    head: dict[str, Any] = json.loads(packed[: packed.index(b"\n")])
    return head


def rows_of(packed: bytes) -> Iterator[dict[str, Any]]:
    """Give one row after the other."""
    body = BytesIO(packed)
    body.readline()
    with gzip.GzipFile(fileobj=body) as rows:
        yield from map(json.loads, rows)
