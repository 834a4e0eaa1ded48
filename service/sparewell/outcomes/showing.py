"""What is shown of outcomes, of sister pieces, and of what is in a pen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sparewell.extend.host import Declarations
from sparewell.measure.length import millimetres
from sparewell.outcomes.contents import PenContent
from sparewell.outcomes.operations import Fitting, glue_of, size_of
from sparewell.outcomes.tables import Outcome


@dataclass(frozen=True)
class ShownOutcome:
    """How pieces turned out, with what it is about."""

    row: Outcome
    fitting: Fitting

    @property
    def counts(self) -> bool:
        """Whether it is the latest word on them."""
        return self.fitting.outcome is not None and self.fitting.outcome.id == self.row.id

    @property
    def readings(self) -> Mapping[str, Any]:
        """The pen's readings as they were then."""
        return {name: _kept_reading(kept) for name, kept in self.row.readings.items()}


def _kept_reading(kept: Mapping[str, Any]) -> dict[str, Any]:
    length = kept["value_nanometres"]
    value = kept["value_text"] if length is None else millimetres(length)
    return {"id": kept["id"], "value": value, "entered": kept["entered"]}


@dataclass(frozen=True)
class ShownSister:
    """Pieces of the same lot in another pen, and whether they are still in it."""

    row: Fitting
    still_in: bool


def shown_sisters(
    sisters: Sequence[Fitting], inside: Mapping[int, Sequence[PenContent]]
) -> list[ShownSister]:
    """Return sister pieces as they are shown; `inside` is what each pen has in it now."""
    still = {each.movement.reservation_id for some in inside.values() for each in some}
    return [ShownSister(each, each.reservation.id in still) for each in sisters]


@dataclass(frozen=True)
class ShownContent:
    """Pieces that are in a pen now, their size in words, and their glue."""

    row: PenContent
    size: str
    glue: str


def shown_contents(declared: Declarations, some: Sequence[PenContent]) -> list[ShownContent]:
    """Return what is in a pen as it is shown."""
    return [
        ShownContent(each, size_of(declared, each.lot), glue_of(declared, each.lot, each.glue))
        for each in some
    ]
