"""A sentence that is written when somebody reads it.

Hundreds of pieces are judged where a few are shown. What would be said of the others is never
written.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, overload


class Sentence:
    """A field of a dataclass: given a text or what writes it, it is read as a text."""

    def __set_name__(self, owner: type, name: str) -> None:
        self._kept_as = f"_{name}"

    @overload
    def __get__(self, row: None, owner: type) -> Sentence: ...

    @overload
    def __get__(self, row: Any, owner: type) -> str: ...

    def __get__(self, row: Any, owner: type) -> Sentence | str:
        if row is None:
            raise AttributeError(self._kept_as)  # a dataclass then knows of no default
        said = row.__dict__[self._kept_as]
        if callable(said):
            said = row.__dict__[self._kept_as] = said()
        if not isinstance(said, str):
            raise TypeError(f"{type(said).__name__} written, not a text")
        return said

    def __set__(self, row: Any, said: str | Callable[[], str]) -> None:
        row.__dict__[self._kept_as] = said
