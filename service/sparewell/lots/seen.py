"""What is looked at of a lot while pieces are chosen.

Hundreds are seen and a few are shown, so what is seen is far lighter than a row: its documents are
read once for all lots that have the same.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from sqlalchemy import Row, Select, Text, cast
from sqlalchemy.orm import Session

from sparewell.catalogue.tables import column_of
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS

_PLAIN: Final = (
    *(Lot.id, Lot.kind, Lot.material, Lot.material_confidence, Lot.label, Lot.condition),
    *(Lot.made_from, cast(Lot.arrived_at, Text), Lot.in_hand, Lot.promised, Lot.donor_id),
)
_DOCUMENTS: Final = (Lot.measured, Lot.measured_how, Lot.attributes)
_FIRST_DOCUMENT: Final = len(_PLAIN)
_FIRST_SIZE: Final = _FIRST_DOCUMENT + len(_DOCUMENTS)
SEEN: Final = (
    *_PLAIN,
    *(cast(document, Text) for document in _DOCUMENTS),
    *(getattr(Lot, column_of(name)) for name in DIMENSIONS),
)


class SeenLot(NamedTuple):
    """A lot as it is seen: named like the columns of its row."""

    id: int
    kind: str
    material: str | None
    material_confidence: str
    label: str | None
    condition: str | None
    made_from: date | None
    arrived: str
    in_hand: int
    promised: int
    donor_id: int | None
    measured: Mapping[str, Any]
    measured_how: Mapping[str, Any]
    attributes: Mapping[str, Any]
    dimensions: Mapping[str, int]

    @property
    def arrived_at(self) -> datetime:
        """When it came; few are asked, since most are known to be made on a day."""
        return datetime.fromisoformat(self.arrived).replace(tzinfo=UTC)

    @property
    def available(self) -> int:
        """How many pieces are in hand and not promised."""
        return self.in_hand - self.promised


def seen(session: Session, chosen: Select[Any], values: Mapping[str, object]) -> list[SeenLot]:
    """Return what is seen of the lots that a statement of `SEEN` chooses, in its order."""
    session.flush()  # as the session would before a statement of its own
    return [_seen(row) for row in session.connection().execute(chosen, values).all()]


def _seen(row: Row[Any]) -> SeenLot:
    sizes = zip(DIMENSIONS, row[_FIRST_SIZE:])  # noqa: B905 - both are made of the same names
    return SeenLot._make(
        (
            *row[:_FIRST_DOCUMENT],
            *map(_document, row[_FIRST_DOCUMENT:_FIRST_SIZE]),
            {name: value for name, value in sizes if value is not None},
        )
    )


@lru_cache(maxsize=4096)
def _document(text: str) -> Mapping[str, Any]:
    return MappingProxyType(json.loads(text))
