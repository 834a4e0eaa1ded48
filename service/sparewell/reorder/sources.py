"""Where what jobs want could come from: pieces in hand, and parts of the catalogue.

What is looked up is looked up for all needs together, or once for all that ask the same.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import nsmallest
from operator import itemgetter
from typing import Any

from sqlalchemy import ColumnElement, Select, select

from sparewell.catalogue.tables import Part, column_of
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Envelope, Piece, Range
from sparewell.fitting import at_hand
from sparewell.fitting.judging import TAKEN_BY_ITSELF, Judge
from sparewell.lots import search
from sparewell.lots.tables import Lot
from sparewell.suppliers.tables import Offer
from sparewell.work import Work

MOST_PARTS_JUDGED = 20
A_FEW = 5
_IN_DRAWER = Lot.donor_id.is_(None) & Lot.condition.is_(None)
_ORDER = {verdict: position for position, verdict in enumerate(TAKEN_BY_ITSELF)}
_Key = tuple[str, int, frozenset[tuple[str, Range]], tuple[tuple[str, ...], ...]]


@dataclass(frozen=True)
class Asked:
    """What sizes a need, what would fit it, and who judges pieces for it."""

    run: Run
    envelope: Envelope
    judge: Judge

    @property
    def conditions(self) -> tuple[ColumnElement[bool], ...]:
        """The conditions that a plan may count on a piece, as far as columns tell it."""
        kind = self.envelope.kind
        in_order = self.judge.suiting.in_order(kind)
        return self.judge.suits(kind), *(() if in_order is None else (in_order,))

    @property
    def key(self) -> _Key:
        """What makes two searches the same one."""
        materials = (tuple(self.run.pen_materials), tuple(self.run.materials))
        envelope = self.envelope
        return envelope.kind, envelope.ideal, frozenset(envelope.ranges.items()), materials


class PiecesInHand:
    """The pieces in hand near what many needs want, looked up for all of them at once."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._lots: dict[int, Lot] = {}

    def nearby(self, asked: Sequence[Asked]) -> list[Sequence[Lot]]:
        """Return for each a few lots in drawers just beside the ideal."""
        return self._found(asked, A_FEW, _IN_DRAWER)

    def everywhere(self, asked: Sequence[Asked]) -> list[Sequence[Lot]]:
        """Return for each all that a plan looks at, drawers first.

        What has a piece fixed in it that is promised is not among them.
        """
        found = self._found(asked, search.MOST_JUDGED)
        of_donors = {lot.id: lot for lots in found for lot in lots if lot.donor_id is not None}
        promised = at_hand.promised_inside(self._work.session, of_donors.values())
        taken = {lot_id for lot_id, *_ in promised}
        return [
            sorted(
                (lot for lot in lots[: search.MOST_JUDGED] if lot.id not in taken),
                key=lambda lot: lot.donor_id is not None,
            )
            for lots in found
        ]

    def _found(
        self, asked: Sequence[Asked], most: int, *also: ColumnElement[bool]
    ) -> list[Sequence[Lot]]:
        """Return the nearest for each; those who ask the same are answered together."""
        searches = {each.key: self._search(each, *also) for each in asked}
        found = search.nearest_of_each(self._work.session, list(searches.values()), most)
        new = {lot_id for each in found for lot_id in each}.difference(self._lots)
        lots = self._work.session.scalars(select(Lot).where(Lot.id.in_(new))) if new else ()
        self._lots |= {lot.id: lot for lot in lots}
        by_key = dict(zip(searches, found, strict=True))
        return [[self._lots[lot_id] for lot_id in by_key[each.key]] for each in asked]

    def _search(self, asked: Asked, *also: ColumnElement[bool]) -> search.Sought:
        kind = asked.envelope.kind
        return search.Sought(
            kind,
            self._work.declared.kinds[kind].led_by,
            asked.envelope.ideal,
            asked.envelope.ranges,
            (*also, *asked.conditions),
        )


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
