"""The refusals of the service, one small tree.

    Refusal                 something was asked for that will not be done
    ├── NotFound            the thing named in the address does not exist
    ├── Impossible          the request itself can never be right (values, names)
    ├── Conflict            the request is right, the present state forbids it
    └── Broken              a plugin failed while answering for itself

Rooms raise these; only the HTTP edge and the command line turn them into status codes.
A :class:`Problem` says where the fault lies (a JSON pointer, RFC 6901) and what is accepted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Problem:
    """One fault: `pointer` into the request body ("" for the whole), and the sentence to show."""

    pointer: str
    detail: str
    more: Mapping[str, Any] = field(default_factory=dict)


class Refusal(Exception):  # noqa: N818 - the trade word of this code base for an expected failure
    """Base of every expected failure; carries the sentence and the located problems."""

    def __init__(self, detail: str, problems: Sequence[Problem] = ()) -> None:
        super().__init__(detail)
        self.detail = detail
        self.problems = tuple(problems)


class NotFound(Refusal):
    """The thing named in the address does not exist."""


class Impossible(Refusal):
    """The request can never be right; the problems say where and what would be accepted."""

    @classmethod
    def at(cls, pointer: str, detail: str) -> Impossible:
        """Return the refusal of one located value."""
        return cls(detail, (Problem(pointer, detail),))


class Conflict(Refusal):
    """The present state forbids it; the same request may succeed later."""


class Broken(Refusal):
    """A plugin failed while answering for itself; everything else goes on."""

    def __init__(self, detail: str, plugin: str) -> None:
        super().__init__(detail)
        self.plugin = plugin
