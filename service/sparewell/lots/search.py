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
from functools import lru_cache
from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    BindParameter,
    ColumnElement,
    CompoundSelect,
    Select,
    Subquery,
    and_,
    bindparam,
    func,
    literal,
    or_,
    select,
    true,
    union_all,
)
from sqlalchemy.orm import InstrumentedAttribute, Session, joinedload

from sparewell.catalogue.tables import column_of
from sparewell.extend.declarations import Envelope, Range
from sparewell.lots.conditions import Condition
from sparewell.lots.seen import SEEN, SeenLot, seen
from sparewell.lots.tables import Lot

MOST_JUDGED = 200
MOST_MISSES = 20
# How far a walk goes through pieces of which only a few may be shown.
MOST_WALKED = 1_000
SEARCHES_AT_ONCE = 25
_LOW, _HIGH = "low", "high"
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
    column: ColumnElement[int | None]
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


@dataclass(frozen=True)
class _Box:
    """What a statement is put together for: which bounds there are, whatever they are.

    To put one together takes longer than to run it, so it is kept. The suffix tells its numbers
    from those of others in the same statement.
    """

    kind: str
    lead: str
    bounds: tuple[tuple[str, str], ...]
    suffix: str = ""

    @classmethod
    def of(cls, kind: str, lead: str, ranges: Mapping[str, Range]) -> _Box:
        """Return the box of some ranges."""
        return cls(kind, lead, tuple(bound for bound, _ in _bounds(ranges)))

    @property
    def column(self) -> ColumnElement[int | None]:
        """The leading dimension's column."""
        return dimension_column(self.lead).expression

    def within(self, *, lead: bool) -> list[ColumnElement[bool]]:
        """Return the conditions of the leading dimension, or those of all others."""
        return [
            (dimension_column(name) >= self.number(f"{name}_{side}"))
            if side == _LOW
            else (dimension_column(name) <= self.number(f"{name}_{side}"))
            for name, side in self.bounds
            if (name == self.lead) is lead
        ]

    def number(self, name: str) -> BindParameter[int]:
        """Return what a number of this box is called in a statement."""
        return _number(f"{name}{self.suffix}")

    def way(self, *conditions: ColumnElement[bool], is_down: bool = False) -> _Way:
        """Return a way through the lots of the kind."""
        return _Way(self.kind, self.column, conditions, is_down)

    def both_ways(self, *also: ColumnElement[bool]) -> list[_Way]:
        """Return the ways up and down from the ideal; without bounds the unknown count too."""
        inside = self.within(lead=True)
        ways = [
            self.way(self.column >= self.number("up_from"), *inside, *also),
            self.way(self.column <= self.number("down_from"), *inside, *also, is_down=True),
        ]
        return ways if inside else [*ways, self.way(self.column.is_(None), *also)]


def _number(name: str) -> BindParameter[int]:
    return bindparam(name, type_=BigInteger)


def _bounds(ranges: Mapping[str, Range]) -> Iterator[tuple[tuple[str, str], int]]:
    """Yield each bound: of what, on which side, and what it is."""
    for name, bounds in ranges.items():
        for side, value in ((_LOW, bounds.low), (_HIGH, bounds.high)):
            if value is not None:
                yield (name, side), value


def _values(lead: str, ideal: int, ranges: Mapping[str, Range], suffix: str = "") -> dict[str, int]:
    """Return what stands for each name in a statement."""
    bounds = ranges.get(lead, Range())
    values = {
        "ideal": ideal,
        "up_from": ideal if bounds.low is None else max(ideal, bounds.low),
        "down_from": ideal - 1 if bounds.high is None else min(ideal - 1, bounds.high),
        **{f"{name}_{side}": value for (name, side), value in _bounds(ranges)},
    }
    return {f"{name}{suffix}": value for name, value in values.items()}


def nearest(
    session: Session, kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]
) -> Sequence[Lot]:
    """Return the lots inside a box that have something left, nearest to the ideal first."""
    statement = _nearest(_Box.of(kind, lead, ranges))
    return session.scalars(statement, _values(lead, ideal, ranges)).unique().all()


def nearest_seen(
    session: Session,
    envelope: Envelope,
    lead: str,
    suits: ColumnElement[bool],
    first: ColumnElement[bool] | None = None,
) -> list[SeenLot]:
    """Return what is seen of the nearest that would fit.

    `suits` is what columns can tell of pieces that would do: those that would not are found beside
    them, and take nobody's place. Nor does anything take the place of those that meet `first`.
    """
    statement = _nearest_seen(_Box.of(envelope.kind, lead, envelope.ranges), suits, first)
    return seen(session, statement, _values(lead, envelope.ideal, envelope.ranges))


@lru_cache
def _nearest_seen(
    box: _Box, suits: ColumnElement[bool], first: ColumnElement[bool] | None
) -> Select[Any]:
    return _nearest(box, suits, first).with_only_columns(*SEEN)


@lru_cache
def _nearest(
    box: _Box, suits: ColumnElement[bool] | None = None, first: ColumnElement[bool] | None = None
) -> Select[Any]:
    ways = box.both_ways(*box.within(lead=False))
    suitable = ways if suits is None else [way.meeting(suits) for way in ways]
    found = [_cut((way.walk(MOST_JUDGED) for way in suitable), MOST_JUDGED)]
    if first is not None:
        wanted = [way.meeting(first) for way in suitable]
        found.append(_cut((way.walk(MOST_JUDGED) for way in wanted), MOST_JUDGED))
    if suits is not None:
        found.append(_cut((_not_meeting(way, suits) for way in ways), MOST_MISSES))
    distance = func.abs(box.column - _number("ideal"))
    chosen = Lot.id.in_(select(_together(found).c.id))
    return select(Lot).where(chosen).order_by(distance, *_OLDEST_FIRST)


def _not_meeting(way: _Way, condition: ColumnElement[bool]) -> Select[Any]:
    """Return the first on a way that do not meet a condition, as far as one looks for them."""
    walked = way.walk(MOST_WALKED, condition.label("meets")).subquery()
    return (
        select(walked.c.id, walked.c.lead, walked.c.made_from)
        .where(walked.c.meets.is_not(true()))
        .limit(MOST_MISSES)
    )


def _cut(walks: Iterable[Select[Any]], most: int) -> Select[Any]:
    """Return the nearest of what several walks have found."""
    found = _together(walks)
    distance = func.abs(found.c.lead - _number("ideal"))
    made = found.c.made_from
    return select(found.c.id).order_by(distance, made.is_(None), made, found.c.id).limit(most)


def _together(parts: Iterable[Select[Any]]) -> Subquery:
    """Return the rows of several statements, of which each has an order and an end of its own."""
    return union_all(*(select(part.subquery()) for part in parts)).subquery()


def misses(
    session: Session, kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]
) -> tuple[list[Lot], bool]:
    """Return the nearest lots that are outside a box, by their leading dimension.

    That is those inside its leading range that another range leaves out, those just below and just
    above it, and last those whose leading dimension is not known. Besides, whether any inside the
    leading range lie so far off that they were not looked at.
    """
    statement = _misses(_Box.of(kind, lead, ranges))
    rows = session.execute(statement, _values(lead, ideal, ranges)).unique().all()
    return [lot for lot, _ in rows if lot is not None], any(ends_early for _, ends_early in rows)


@lru_cache
def _misses(box: _Box) -> Select[Any]:
    further = [way.walk(1).offset(MOST_WALKED).subquery() for way in box.both_ways()]
    ends_early = or_(*(select(each.c.id).exists() for each in further)).label("ends_early")
    told = select(ends_early).subquery()
    found = _together(_beside(box))
    # There is one row at least, of no lot, so that it is told where nothing was found.
    return (
        select(Lot, told.c.ends_early)
        .select_from(told)
        .outerjoin(found, true())
        .outerjoin(Lot, Lot.id == found.c.id)
        .options(joinedload(Lot.place, innerjoin=False))
        .order_by(found.c.distance.nulls_last(), Lot.id)
        .limit(MOST_MISSES)
    )


def _beside(box: _Box) -> Iterator[Select[Any]]:
    """Yield the nearest of each way of being outside, with how far outside they are."""
    low, high = _number(f"{box.lead}_{_LOW}"), _number(f"{box.lead}_{_HIGH}")
    if (box.lead, _LOW) in box.bounds:
        below = box.way(box.column < low, is_down=True)
        yield _closest([below], lambda value: low - value)
    if (box.lead, _HIGH) in box.bounds:
        yield _closest([box.way(box.column > high)], lambda value: value - high)
    if others := box.within(lead=False):
        inside = _left_out(box, and_(*others)).subquery()
        yield select(inside.c.id, literal(0, BigInteger).label("distance"))
    yield _closest([box.way(box.column.is_(None))], lambda value: value)


def _left_out(box: _Box, meets: ColumnElement[bool]) -> Select[Any]:
    """Return the nearest inside the leading range that another range leaves out.

    Where all meet them a walk would never end: so many are looked at, and no more.
    """
    walks = [way.walk(MOST_WALKED, meets.label("meets")).subquery() for way in box.both_ways()]
    # `IS NOT TRUE` holds too where the other dimension is not known.
    found = _together(
        select(walk.c.id, walk.c.lead).where(walk.c.meets.is_not(true())) for walk in walks
    )
    distance = func.abs(found.c.lead - _number("ideal"))
    return select(found.c.id).order_by(distance, found.c.id).limit(MOST_MISSES)


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
    """One of many searches: lots of a kind in a box, near an ideal, that meet some conditions."""

    kind: str
    lead: str
    ideal: int
    ranges: Mapping[str, Range]
    conditions: tuple[ColumnElement[bool], ...]


def nearest_of_each(session: Session, searches: Sequence[Sought], most: int) -> list[list[int]]:
    """Return for each of many searches the ids of so many lots both ways, the nearest first.

    Those of one shape are asked for together, always so many at once, so that their statement is
    put together once: the last one is repeated to fill it.
    """
    shapes: dict[Any, list[int]] = {}
    for position, each in enumerate(searches):
        box = _Box.of(each.kind, each.lead, each.ranges)
        shapes.setdefault((box, each.conditions), []).append(position)
    found: list[set[tuple[int, date, int]]] = [set() for _ in searches]
    for (box, conditions), positions in shapes.items():
        at_once = SEARCHES_AT_ONCE if len(positions) > 1 else 1
        statement = _nearest_of_each(box, conditions, most, at_once)
        for start in range(0, len(positions), at_once):
            some = positions[start : start + at_once]
            values: dict[str, int] = {}
            for number in range(at_once):
                each = searches[some[min(number, len(some) - 1)]]
                values |= _values(each.lead, each.ideal, each.ranges, f"_{number}")
            for lot_id, lead, made_from, number in session.execute(statement, values):
                position = some[min(number, len(some) - 1)]
                distance = abs(lead - searches[position].ideal)
                found[position].add((distance, made_from or date.max, lot_id))
    return [[lot_id for *_, lot_id in sorted(each)] for each in found]


@lru_cache
def _nearest_of_each(
    box: _Box, conditions: tuple[ColumnElement[bool], ...], most: int, searches: int
) -> CompoundSelect[Any]:
    numbered = [(number, replace(box, suffix=f"_{number}")) for number in range(searches)]
    return union_all(
        *(
            select(way.walk(most, literal(number).label("number")).subquery())
            for number, each in numbered
            for way in each.both_ways(*each.within(lead=False), *conditions)
        )
    )
