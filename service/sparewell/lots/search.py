"""The one search: lots of a kind by ranges of dimensions, in drawers and in donors.

Nothing is put in order that need not be. Each dimension that a kind is looked up by has two indexes
over the lots that have something left, one upward and one downward, and pieces of one size lie in
both with the oldest first. So the nearest are read off in two walks away from the ideal, however
many lots there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    Select,
    Subquery,
    and_,
    func,
    literal,
    select,
    true,
    union_all,
)
from sqlalchemy.orm import InstrumentedAttribute, Session

from sparewell.catalogue.tables import column_of
from sparewell.extend.declarations import Envelope, Range
from sparewell.lots.conditions import Condition
from sparewell.lots.seen import SeenLot, seen
from sparewell.lots.tables import Lot

MOST_JUDGED = 200
MOST_MISSES = 20
# How far a walk goes through pieces of which only a few may be shown.
MOST_WALKED = 2_000
SEARCHES_AT_ONCE = 25
# As the two indexes have it, so that it is nothing null that comes last.
_OLDEST_FIRST: Final = (Lot.made_from.is_(None), Lot.made_from, Lot.id)


def dimension_column(name: str) -> InstrumentedAttribute[int | None]:
    """Return the lot's column of a dimension."""
    column: InstrumentedAttribute[int | None] = getattr(Lot, column_of(name))
    return column


def within(ranges: Mapping[str, Range]) -> list[ColumnElement[bool]]:
    """Return the conditions of a box; a lot whose dimension is unknown is outside."""
    conditions: list[ColumnElement[bool]] = []
    for name, bounds in ranges.items():
        column = dimension_column(name)
        if bounds.low is not None:
            conditions.append(column >= bounds.low)
        if bounds.high is not None:
            conditions.append(column <= bounds.high)
    return conditions


def of_a_donor_whose(kind: str, conditions: Sequence[ColumnElement[bool]]) -> ColumnElement[bool]:
    """Return the condition that a lot's donor has, or had, a piece of a kind that meets these.

    So a clip is found by its cap, fixed in it or not, and also once either was taken out.
    """
    donors = select(Lot.donor_id).where(Lot.kind == kind, Lot.donor_id.is_not(None), *conditions)
    return Lot.donor_id.in_(donors.correlate(None))


@dataclass(frozen=True)
class _Way:
    """One way through the lots of a kind, along one of its indexes."""

    kind: str
    column: InstrumentedAttribute[int | None]
    conditions: Sequence[ColumnElement[bool]]
    is_down: bool = False

    def walk(self, most: int, *told: ColumnElement[Any]) -> Select[Any]:
        """Return the first on this way: what they are put in order by, and what else is told."""
        order = self.column.desc() if self.is_down else self.column.asc()
        return (
            select(Lot.id, self.column.label("lead"), Lot.made_from, *told)
            .where(Lot.kind == self.kind, Lot.has_available, is_whole(), *self.conditions)
            .order_by(order, *_OLDEST_FIRST)
            .limit(most)
        )

    def meeting(self, condition: ColumnElement[bool]) -> _Way:
        """Return this way past those that do not meet a condition."""
        return replace(self, conditions=(*self.conditions, condition))


def nearest(
    session: Session, kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]
) -> Sequence[Lot]:
    """Return the lots inside a box that have something left, nearest to the ideal first."""
    return session.scalars(_nearest(kind, lead, ideal, ranges)).unique().all()


def nearest_seen(
    session: Session,
    envelope: Envelope,
    lead: str,
    suits: ColumnElement[bool],
    first: ColumnElement[bool] | None,
) -> list[SeenLot]:
    """Return what is seen of the nearest that would fit.

    `suits` is what columns can tell of pieces that would do: those that would not are found beside
    them, and take nobody's place. Nor does anything take the place of those that meet `first`.
    """
    statement = _nearest(envelope.kind, lead, envelope.ideal, envelope.ranges, suits, first)
    return seen(session, statement)


def _nearest(
    kind: str,
    lead: str,
    ideal: int,
    ranges: Mapping[str, Range],
    suits: ColumnElement[bool] | None = None,
    first: ColumnElement[bool] | None = None,
) -> Select[Any]:
    ways = _both_ways(kind, lead, ideal, ranges)
    suitable = ways if suits is None else [way.meeting(suits) for way in ways]
    found = [_cut((way.walk(MOST_JUDGED) for way in suitable), ideal, MOST_JUDGED)]
    if first is not None:
        wanted = [way.meeting(first) for way in suitable]
        found.append(_cut((way.walk(MOST_JUDGED) for way in wanted), ideal, MOST_JUDGED))
    if suits is not None:
        found.append(_cut((_not_meeting(way, suits) for way in ways), ideal, MOST_MISSES))
    distance = func.abs(dimension_column(lead) - ideal)
    chosen = Lot.id.in_(select(_together(found).c.id))
    return select(Lot).where(chosen).order_by(distance, *_OLDEST_FIRST)


def _both_ways(kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]) -> list[_Way]:
    """Return the way up and the way down from an ideal; without bounds the unknown count too."""
    column = dimension_column(lead)
    others = within({name: bounds for name, bounds in ranges.items() if name != lead})
    bounds = ranges.get(lead, Range())
    low, high = bounds.low, bounds.high
    up = within({lead: Range(ideal if low is None else max(ideal, low), high)})
    down = within({lead: Range(low, ideal - 1 if high is None else min(ideal - 1, high))})
    ways = [_Way(kind, column, [*up, *others]), _Way(kind, column, [*down, *others], is_down=True)]
    if bounds == Range():
        ways.append(_Way(kind, column, [column.is_(None), *others]))
    return ways


def _not_meeting(way: _Way, condition: ColumnElement[bool]) -> Select[Any]:
    """Return the first on a way that do not meet a condition, as far as one looks for them."""
    walked = way.walk(MOST_WALKED, condition.label("meets")).subquery()
    return (
        select(walked.c.id, walked.c.lead, walked.c.made_from)
        .where(walked.c.meets.is_not(true()))
        .limit(MOST_MISSES)
    )


def _cut(walks: Iterable[Select[Any]], ideal: int, most: int) -> Select[Any]:
    """Return the nearest of what several walks have found."""
    found = _together(walks)
    distance = func.abs(found.c.lead - ideal)
    made = found.c.made_from
    return select(found.c.id).order_by(distance, made.is_(None), made, found.c.id).limit(most)


def _together(parts: Iterable[Select[Any]]) -> Subquery:
    """Return the rows of several statements, of which each has an order and an end of its own."""
    return union_all(*(select(part.subquery()) for part in parts)).subquery()


def misses(
    session: Session, kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]
) -> Sequence[Lot]:
    """Return the nearest lots that are outside a box, by their leading dimension.

    That is those inside its leading range that another range leaves out, those just below and just
    above it, and last those whose leading dimension is not known.
    """
    found = _together(_beside(kind, lead, ideal, ranges))
    statement = (
        select(Lot)
        .join(found, found.c.id == Lot.id)
        .order_by(found.c.distance.nulls_last(), Lot.id)
        .limit(MOST_MISSES)
    )
    return session.scalars(statement).unique().all()


def _beside(kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]) -> Iterator[Select[Any]]:
    """Yield the nearest of each way of being outside, with how far outside they are."""
    column, bounds = dimension_column(lead), ranges[lead]
    low, high = bounds.low, bounds.high
    if low is not None:
        below = _Way(kind, column, [column < low], is_down=True)
        yield _closest([below], lambda value: low - value)
    if high is not None:
        above = _Way(kind, column, [column > high])
        yield _closest([above], lambda value: value - high)
    others = {name: each for name, each in ranges.items() if name != lead}
    if others:
        # `IS NOT TRUE` holds too where the other dimension is not known.
        left_out = and_(*within(others)).is_not(true())
        ways = [way.meeting(left_out) for way in _both_ways(kind, lead, ideal, {lead: bounds})]
        inside = _closest(ways, lambda value: func.abs(value - ideal)).subquery()
        yield select(inside.c.id, literal(0, BigInteger).label("distance"))
    yield _closest([_Way(kind, column, [column.is_(None)])], lambda value: value)


def _closest(
    ways: Iterable[_Way], distance_of: Callable[[ColumnElement[int]], ColumnElement[int]]
) -> Select[Any]:
    """Return the closest on some ways, with their distance; among equals the first to arrive."""
    found = _together(way.walk(MOST_WALKED) for way in ways)
    distance = distance_of(found.c.lead).label("distance")
    return select(found.c.id, distance).order_by(distance, found.c.id).limit(MOST_MISSES)


def is_whole() -> ColumnElement[bool]:
    """Return the condition that a lot is what its kind says; an offcut is that no longer."""
    return Lot.condition.is_(None) | (Lot.condition != Condition.OFFCUT)


@dataclass(frozen=True)
class Sought:
    """One of many searches: lots of a kind in a box, near an ideal, that meet a condition."""

    kind: str
    lead: str
    ideal: int
    ranges: Mapping[str, Range]
    condition: ColumnElement[bool]

    @property
    def shape(self) -> tuple[Any, ...]:
        """What the text of its statement depends on, beside its condition."""
        bounds = [(name, each.low is None, each.high is None) for name, each in self.ranges.items()]
        return (self.kind, self.lead, *bounds)

    def walks(self, position: int, most: int) -> Iterator[Select[Any]]:
        """Yield the first on both ways, with a number to know them by."""
        for way in _both_ways(self.kind, self.lead, self.ideal, self.ranges):
            walk = way.meeting(self.condition).walk(most, literal(position).label("position"))
            yield select(walk.subquery())


def nearest_of_each(session: Session, searches: Sequence[Sought], most: int) -> list[list[int]]:
    """Return for each of many searches the ids of so many lots both ways, the nearest first.

    Searches of one shape are asked for together, one alone or always so many at once: a statement
    that has come before need not be put together again, so the last one is repeated to fill it.
    """
    order = sorted(range(len(searches)), key=lambda position: repr(searches[position].shape))
    found: list[set[tuple[int, date, int]]] = [set() for _ in searches]
    for _, same in groupby(order, key=lambda position: searches[position].shape):
        positions = list(same)
        at_once = SEARCHES_AT_ONCE if len(positions) > 1 else 1
        for start in range(0, len(positions), at_once):
            some = positions[start : start + at_once]
            full = [*some, *[some[-1]] * (at_once - len(some))]
            walks = (walk for each in full for walk in searches[each].walks(each, most))
            for lot_id, lead, made_from, position in session.execute(union_all(*walks)):
                distance = abs(lead - searches[position].ideal)
                found[position].add((distance, made_from or date.max, lot_id))
    return [[lot_id for *_, lot_id in sorted(each)] for each in found]
