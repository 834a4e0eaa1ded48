"""A length together with the text it was entered as."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class EnteredLength:
    """A length in whole nanometres and the text as typed, which is kept and echoed."""

    nanometres: int
    text: str
