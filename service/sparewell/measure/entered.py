"""A length together with the text it was entered as."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class EnteredLength:
    """A length in whole nanometres and the text as typed, which is kept and echoed."""

    nanometres: int
    text: str


@dataclass(frozen=True)
class MeasuredLength(EnteredLength):
    """A length measured on a piece: how far it may be off either way, and what it was taken with.

    Each is None where it was not said.
    """

    spread: EnteredLength | None = None
    instrument: str | None = None
