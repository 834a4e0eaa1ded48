"""Which parts of the catalogue would do for what jobs lack, each kind looked up once."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from heapq import nsmallest
from operator import itemgetter
from typing import Any

from sqlalchemy import Select, select

from sparewell.catalogue.tables import Part, column_of
from sparewell.extend.declarations import Envelope, Piece
from sparewell.fitting.in_hand import Asked
from sparewell.fitting.judging import TAKEN_BY_ITSELF
from sparewell.suppliers.tables import Offer
from sparewell.work import Work

MOST_PARTS_JUDGED = 20
_ORDER = {verdict: position for position, verdict in enumerate(TAKEN_BY_ITSELF)}


@dataclass(frozen=True)
class _CataloguePart:
    """What the catalogue says of a part, as far as its kind is described."""

    id: int
    material: str | None
    dimensions: Mapping[str, int]


class Catalogue:
    """The parts by kind, with their nominal dimensions, each kind looked up once."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._parts: dict[str, list[tuple[int, _CataloguePart]]] = {}
        self._offered: set[int | None] = set()

    def best_part(self, asked: Asked) -> int | None:
        """Return the part that would do best by its nominal dimensions."""
        judged = []
        for distance, part in self._nearest(asked.envelope):
            basis = dict.fromkeys(part.dimensions, "nominal")
            kind = asked.envelope.kind
            piece = Piece(kind, part.dimensions, basis, material=part.material)
            judgement = asked.run.judge(piece)
            if judgement.verdict in _ORDER:
                rank = (_ORDER[judgement.verdict], judgement.preference)
                judged.append((*rank, part.id not in self._offered, distance, part.id))
        return min(judged)[-1] if judged else None

    def _nearest(self, envelope: Envelope) -> list[tuple[int, _CataloguePart]]:
        """Return the nearest parts inside a box, as far as their dimensions are known."""
        if envelope.kind not in self._parts:
            self._look_up(envelope.kind)
        parts, bounds = self._parts[envelope.kind], envelope.ranges[self._lead(envelope.kind)]
        low = 0 if bounds.low is None else bisect_left(parts, bounds.low, key=itemgetter(0))
        high = len(parts)
        if bounds.high is not None:
            high = bisect_right(parts, bounds.high, key=itemgetter(0))
        inside = (
            (abs(size - envelope.ideal), part.id, part)
            for size, part in parts[low:high]
            if _is_inside(part.dimensions, envelope)
        )
        return [(distance, part) for distance, _, part in nsmallest(MOST_PARTS_JUDGED, inside)]

    def _lead(self, kind: str) -> str:
        return self._work.declared.kinds[kind].led_by

    def _look_up(self, kind: str) -> None:
        lead = self._lead(kind)
        names = [each.name for each in self._work.declared.kinds[kind].dimensions]
        columns = [getattr(Part, column_of(name)) for name in names]
        known = getattr(Part, column_of(lead)).is_not(None)
        statement = select(Part.id, Part.material, *columns).where(Part.kind == kind, known)
        found = []
        for part_id, material, *values in self._work.session.execute(statement):
            pairs = zip(names, values, strict=True)
            dimensions = {name: value for name, value in pairs if value is not None}
            found.append((dimensions[lead], _CataloguePart(part_id, material, dimensions)))
        self._parts[kind] = sorted(found, key=itemgetter(0))
        self._offered |= set(self._work.session.scalars(_offered(kind)))


def _is_inside(dimensions: Mapping[str, int], envelope: Envelope) -> bool:
    """Whether no known dimension is outside a box."""
    return all(
        (bounds.low is None or dimensions.get(name, bounds.low) >= bounds.low)
        and (bounds.high is None or dimensions.get(name, bounds.high) <= bounds.high)
        for name, bounds in envelope.ranges.items()
    )


def _offered(kind: str) -> Select[Any]:
    return (
        select(Offer.part_id)
        .join(Part, Part.id == Offer.part_id)
        .where(Part.kind == kind, Offer.retired_at.is_(None))
    )
