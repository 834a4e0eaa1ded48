"""What a row of a file becomes: one form for each kind of file, and what it is told."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import marshmallow as ma

from sparewell.work import Work

Progress = Callable[[str, int, int], None]


# So many doubts of a file are told; more would hide them.
MOST_DOUBTS = 50


@dataclass(frozen=True)
class Options:
    """What a person has said about a file."""

    mapping: Mapping[str, str | None] = field(default_factory=dict)
    create_drawers: bool = False
    keep_unmapped: bool = False
    again: bool = False
    dates: str | None = None
    sheet: str | None = None
    header_row: int | None = None
    fill_down: Sequence[str] = ()


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, where it stands in the file, and what would be accepted."""

    detail: str
    accepted: str
    row: int | None = None
    column: str | None = None
    cell: str | None = None
    value: str | None = None


@dataclass(frozen=True)
class Said:
    """What one row says, by the names of the API; `number` is its number in the file."""

    number: int
    values: dict[str, Any]


class RowRefused(Exception):  # noqa: N818 - an expected refusal
    """A row that cannot become anything: which of its targets is at fault, why, what would do."""

    def __init__(self, target: str, detail: str, accepted: str) -> None:
        super().__init__(detail)
        self.target = target
        self.detail = detail
        self.accepted = accepted


class ImportForm(ABC):
    """What the rows of one kind of file become; each kind has its own."""

    schema: type[ma.Schema]

    def __init__(self, work: Work, options: Options) -> None:
        self.work = work
        self.options = options
        self.items: list[Any] = []

    def look_up(self, rows: Iterable[Said]) -> None:  # noqa: B027 - some forms look nothing up
        """Find in the database what the rows name."""

    def faults(self, row: Said, loaded: Mapping[str, Any]) -> Iterator[RowRefused]:  # noqa: ARG002 - as above
        """Give what is wrong with what a row names, of which the schema may have left a part."""
        yield from ()

    @abstractmethod
    def check(self, row: Said, loaded: dict[str, Any]) -> Any:
        """Return what a row without faults becomes. Raises :class:`Impossible`."""

    def keep(self, item: Any) -> None:
        """Keep what a row becomes."""
        self.items.append(item)

    def ready(self) -> bytes | None:
        """Return what was kept, to be written later; None for a form that is checked again then."""
        return None

    def take_up(self, ready: bytes) -> bool:  # noqa: ARG002 - as above
        """Take up what was made ready, and tell whether a check would still find the same."""
        return False

    def apart(self, values: dict[str, Any]) -> dict[str, Any]:  # noqa: ARG002 - some forms have none
        """Take out of a row what its schema does not know."""
        return {}

    def notices(self) -> list[str]:
        """Say what would be made besides."""
        return []

    @abstractmethod
    def write(self, work: Work, name: str) -> tuple[dict[str, Any], int | None]:
        """Write what the rows became; return what was made, and their group in the ledger."""


def divided(detail: str) -> tuple[str, str]:
    """Return what was wrong and, apart from it, what would be accepted, where that is said."""
    before, _, after = detail.partition(". Accepted ")
    return before, after.removeprefix("are ").removeprefix("is ")
