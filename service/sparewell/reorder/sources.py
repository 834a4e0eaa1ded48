"""Where what jobs want could come from: pieces in hand, and parts of the catalogue.

What is looked up is looked up for all needs together, or once for all that ask the same.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from heapq import nsmallest
from operator import itemgetter
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, select, true

from sparewell.catalogue.tables import Part, column_of
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Envelope, Piece, Range
from sparewell.fitting.judging import TAKEN_BY_ITSELF
from sparewell.fitting.materials import Suiting
from sparewell.lots import search
from sparewell.lots.ageing import in_date
from sparewell.lots.tables import Lot
from sparewell.settings.operations import present_values
from sparewell.suppliers.tables import Offer
from sparewell.work import Work

MOST_PARTS_JUDGED = 20
A_FEW = 5
_ORDER = {verdict: position for position, verdict in enumerate(TAKEN_BY_ITSELF)}
_Key = tuple[str, int, frozenset[tuple[str, Range]], tuple[tuple[str, ...], ...]]


@dataclass(frozen=True)
class Asked:
    """What sizes a need, and what would fit it."""

    run: Run
    envelope: Envelope

    @property
    def key(self) -> _Key:
        """What makes two searches the same one."""
        materials = (tuple(self.run.pen_materials), tuple(self.run.materials))
        envelope = self.envelope
        return envelope.kind, envelope.ideal, frozenset(envelope.ranges.items()), materials


class PiecesInHand:
    """The pieces in hand near what each need wants; a few of each are looked up at once."""

    def __init__(self, work: Work, asked: Iterable[Asked]) -> None:
        self._work = work
        wanted = {each.key: each for each in asked}
        in_drawer = Lot.donor_id.is_(None) & Lot.condition.is_(None)
        searches = [self._search(each, in_drawer) for each in wanted.values()]
        few = search.nearest_of_each(work.session, searches, A_FEW)
        self._few = dict(zip(wanted, few, strict=True))
        self._all: dict[_Key, Sequence[Lot]] = {}

    def further_and_further(self, asked: Asked) -> Iterator[Sequence[Lot]]:
        """Yield a few lots in drawers just beside the ideal, and then all that a plan looks at."""
        yield self._few[asked.key]
        if asked.key not in self._all:
            any_place = self._search(asked, true())
            (lots,) = search.nearest_of_each(self._work.session, [any_place], search.MOST_JUDGED)
            self._all[asked.key] = sorted(
                lots[: search.MOST_JUDGED], key=lambda lot: lot.donor_id is not None
            )
        yield self._all[asked.key]

    def _search(self, asked: Asked, where: ColumnElement[bool]) -> search.Sought:
        kind = asked.envelope.kind
        return search.Sought(
            kind,
            self._work.declared.kinds[kind].led_by,
            asked.envelope.ideal,
            asked.envelope.ranges,
            where & _counted_on(self._work, asked.run, kind),
        )


def _counted_on(work: Work, run: Run, kind: str) -> ColumnElement[bool]:
    """Return the condition that a plan may count on a piece, as far as columns tell it."""
    suiting = Suiting(work.declared, run.pen_materials, run.materials)
    settings = present_values(work.session, work.declared)
    in_order = suiting.in_order(kind)
    return and_(
        in_date(work.now.date(), work.declared, settings),
        suiting.may_come_near(kind),
        true() if in_order is None else in_order,
    )


class Catalogue:
    """The parts by kind, with their nominal dimensions, each kind looked up once."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._parts: dict[str, list[tuple[int, Part]]] = {}
        self._offered: set[int | None] = set()

    def best_part(self, asked: Asked) -> int | None:
        """Return the part that would do best by its nominal dimensions."""
        judged = []
        for distance, part in self._nearest(asked.envelope):
            judgement = asked.run.judge(_piece(part))
            if judgement.verdict in _ORDER:
                rank = (_ORDER[judgement.verdict], judgement.preference)
                judged.append((*rank, part.id not in self._offered, distance, part.id))
        return min(judged)[-1] if judged else None

    def _nearest(self, envelope: Envelope) -> list[tuple[int, Part]]:
        """Return the nearest parts inside a box, as far as their dimensions are known."""
        if envelope.kind not in self._parts:
            self._look_up(envelope.kind)
        parts, bounds = self._parts[envelope.kind], envelope.ranges[self._lead(envelope.kind)]
        low = 0 if bounds.low is None else bisect_left(parts, bounds.low, key=itemgetter(0))
        high = bisect_right(parts, bounds.high or parts[-1][0], key=itemgetter(0)) if parts else 0
        inside = (
            (abs(size - envelope.ideal), part.id, part)
            for size, part in parts[low:high]
            if _is_inside(part.dimensions, envelope)
        )
        return [(distance, part) for distance, _, part in nsmallest(MOST_PARTS_JUDGED, inside)]

    def _lead(self, kind: str) -> str:
        return self._work.declared.kinds[kind].led_by

    def _look_up(self, kind: str) -> None:
        column = getattr(Part, column_of(self._lead(kind)))
        parts = select(Part).where(Part.kind == kind, column.is_not(None)).order_by(column, Part.id)
        found = self._work.session.scalars(parts).all()
        self._parts[kind] = [(part.dimensions[self._lead(kind)], part) for part in found]
        self._offered |= set(self._work.session.scalars(_offered(kind)))


def _is_inside(dimensions: Mapping[str, int], envelope: Envelope) -> bool:
    """Whether no known dimension is outside a box."""
    return all(
        (bounds.low is None or dimensions.get(name, bounds.low) >= bounds.low)
        and (bounds.high is None or dimensions.get(name, bounds.high) <= bounds.high)
        for name, bounds in envelope.ranges.items()
    )


def _piece(part: Part) -> Piece:
    """Return what the catalogue says of a part, as a calculator is told of it."""
    basis = dict.fromkeys(part.dimensions, "nominal")
    return Piece(part.kind, part.dimensions, basis, material=part.material)


def _offered(kind: str) -> Select[Any]:
    return (
        select(Offer.part_id)
        .join(Part, Part.id == Offer.part_id)
        .where(Part.kind == kind, Offer.retired_at.is_(None))
    )
