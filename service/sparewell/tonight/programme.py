"""Sharing pieces out as an integer programme: its columns, its rows, and the levels of its worth.

A job has a yes or no for each way of finishing it, and each way whole numbers of pieces by need
and lot; a promise that may move has a yes or no by lot. What is wanted is taken wholly or not at
all. Of no lot is more taken than there is, and what is fixed in a piece goes along with it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sparewell.plans.sharing import (
    Asking,
    Option,
    Share,
    Weight,
    Workshop,
    levels_of,
    sizes_at_risk,
    used_by_jobs,
    used_up,
)

Terms = dict[int, int]  # coefficients by column


@dataclass(frozen=True)
class Bound:
    """A sum of columns that has to lie between two bounds; None is no bound."""

    terms: Terms
    low: int | None
    high: int | None


@dataclass
class Programme:
    """Whole unknowns from 0 to `highest`, what binds them, and what each of them stands for."""

    workshop: Workshop
    highest: list[int] = field(default_factory=list)
    rows: list[Bound] = field(default_factory=list)
    ways: dict[tuple[int, int], int] = field(default_factory=dict)
    takes: dict[tuple[int, int, int, int], int] = field(default_factory=dict)
    moves: dict[tuple[int, int], int] = field(default_factory=dict)
    kept: dict[tuple[int, int], int] = field(default_factory=dict)
    used_up: dict[str, int] = field(default_factory=dict)
    along: dict[tuple[int, int], int] = field(default_factory=dict)

    def column(self, highest: int) -> int:
        """Add an unknown and return its number."""
        self.highest.append(highest)
        return len(self.highest) - 1

    def bind(self, terms: Terms, low: int | None, high: int | None) -> None:
        """Add a row."""
        self.rows.append(Bound(terms, low, high))

    def share_of(self, values: Sequence[float]) -> Share:
        """Return what values of the columns say."""
        takes: dict[tuple[int, int], int] = {}
        ways = {job: way for (job, way), column in self.ways.items() if round(values[column])}
        for (job, way, need, lot), column in self.takes.items():
            pieces = round(values[column])
            if pieces and ways.get(job) == way:
                takes[need, lot] = pieces
        own = {each.reservation: each.lot for each in self.workshop.movable}
        return Share(
            ways,
            takes,
            {
                row_id: lot
                for (row_id, lot), column in self.moves.items()
                if round(values[column]) and lot != own[row_id]
            },
            {key: round(values[column]) for key, column in self.kept.items()},
        )

    def values_of(self, share: Share) -> list[float]:
        """Return the values of the columns that say a share."""
        values = [0.0] * len(self.highest)
        for job, way in share.ways.items():
            values[self.ways[job, way]] = 1.0
        for (job, way, need, lot), column in self.takes.items():
            if share.ways.get(job) == way:
                values[column] = share.takes.get((need, lot), 0)
        for key, column in self.kept.items():
            values[column] = share.kept.get(key, 0)
        for each in self.workshop.movable:
            lot = share.moves.get(each.reservation, each.lot)
            values[self.moves[each.reservation, lot]] = 1.0
        used = used_by_jobs(self.workshop, share)
        for (lot, job), column in self.along.items():
            values[column] = used[job][lot] if job in used else 0
        for size in used_up(self.workshop, share):
            values[self.used_up[size]] = 1.0
        return values


def programme_of(workshop: Workshop) -> Programme:
    """Return the programme of a workshop."""
    programme = Programme(workshop)
    on_lot: dict[int, dict[int, Terms]] = defaultdict(lambda: defaultdict(dict))
    for asking in workshop.askings:
        _add_job(programme, asking, on_lot)
    for asking in workshop.kept_for:
        _add_kept(programme, asking, on_lot)
    for each in workshop.movable:
        columns: Terms = {}
        for lot in (each.lot, *(option.lot for option in each.options)):
            column = programme.column(1)
            programme.moves[each.reservation, lot] = column
            columns[column] = 1
            on_lot[lot][each.job][column] = each.pieces
        programme.bind(columns, 1, 1)
    if workshop.minutes is not None:
        minutes = {each.job: each.minutes for each in workshop.askings}
        spent = {column: minutes[job] for (job, _), column in programme.ways.items()}
        programme.bind(spent, None, workshop.minutes)
    _bind_lots(programme, on_lot)
    _bind_sizes(programme)
    return programme


_OnLots = Mapping[int, dict[int, Terms]]


def _add_job(programme: Programme, asking: Asking, on_lot: _OnLots) -> None:
    if asking.waits:
        return
    one_of = {}
    for way, wants in enumerate(asking.ways):
        is_this = programme.ways[asking.job, way] = programme.column(1)
        one_of[is_this] = 1
        for want in wants:
            terms = {is_this: -want.pieces}
            for option in want.options:
                column = programme.column(want.pieces)
                programme.takes[asking.job, way, want.need, option.lot] = column
                terms[column] = 1
                on_lot[option.lot][asking.job][column] = 1
            programme.bind(terms, 0, 0)
    programme.bind(one_of, 0, 1)


def _add_kept(programme: Programme, asking: Asking, on_lot: _OnLots) -> None:
    """Add what is left for a dated job that is not finished, in the first of its ways."""
    ways = range(0 if asking.waits else len(asking.ways))
    finished = [programme.ways[asking.job, way] for way in ways]
    for want in asking.ways[0] if asking.ways else ():
        terms: Terms = dict.fromkeys(finished, want.pieces)
        for option in want.options:
            column = programme.column(want.pieces)
            programme.kept[want.need, option.lot] = column
            terms[column] = 1
            on_lot[option.lot][asking.job][column] = 1
        programme.bind(terms, None, want.pieces)


def _bind_lots(programme: Programme, on_lot: _OnLots) -> None:
    """Of no lot is more taken than there is, what goes along with another counted too."""
    workshop, capacity = programme.workshop, programme.workshop.capacity
    outside: dict[int, list[int]] = defaultdict(list)
    for lot, inner in workshop.inside.items():
        for each in inner:
            outside[each].append(lot)
    for lot in sorted({*on_lot, *outside}):
        jobs = {job for each in (lot, *outside[lot]) for job in on_lot.get(each, ())}
        taken: Terms = {}
        for job in sorted(jobs):
            if not outside[lot]:
                taken |= on_lot[lot][job]
                continue
            along = programme.along[lot, job] = programme.column(capacity.get(lot, 0))
            taken[along] = 1
            for each in (lot, *outside[lot]):
                terms = on_lot.get(each, {}).get(job)
                if terms:
                    programme.bind(terms | {along: -1}, None, 0)
        if taken:
            programme.bind(taken, None, capacity.get(lot, 0))


def _bind_sizes(programme: Programme) -> None:
    """Let a size that is used up say so in a column of its own."""
    sizes = sizes_at_risk(programme.workshop)
    size_of = {lot: size for size, (lots, _) in sizes.items() for lot in lots}
    taken: dict[str, Terms] = {size: {} for size in sizes}
    stays: Counter[str] = Counter()
    for (*_, lot), column in programme.takes.items():
        if lot in size_of:
            taken[size_of[lot]][column] = 1
    for each in programme.workshop.movable:
        for lot in (each.lot, *(option.lot for option in each.options)):
            if lot in size_of:
                taken[size_of[lot]][programme.moves[each.reservation, lot]] = each.pieces
        if each.lot in size_of:
            stays[size_of[each.lot]] += each.pieces  # what stays is not free; what moves comes back
    for size, (_, free) in sizes.items():
        used_up = programme.used_up[size] = programme.column(1)
        programme.bind(taken[size] | {used_up: -1}, None, free - 1 + stays[size])


def levels_in(programme: Programme) -> list[tuple[str, Terms]]:
    """Return, by the names of :func:`levels_of`, what is to be made most of, in columns."""
    names = [level.name for level in levels_of(programme.workshop, Share())]
    terms = _pens(programme) | _pieces(programme)
    return [(name, terms[name]) for name in names]


def _pens(programme: Programme) -> dict[str, Terms]:
    workshop = programme.workshop
    order = {each.job: place for place, each in enumerate(reversed(workshop.dated), 1)}
    value = {each.job: each.value for each in workshop.askings}
    finished = programme.ways.items()
    return {
        "pens": {column: 1 for _, column in finished},
        "promised pens": {column: 1 for (job, _), column in finished if job in order},
        "soonest promised": {column: order[job] for (job, _), column in finished if job in order},
        "value": {column: value[job] for (job, _), column in finished},
        "left for promised pens": (
            dict.fromkeys(programme.kept.values(), 1) if workshop.weight is Weight.PROMISED else {}
        ),
    }


def _pieces(programme: Programme) -> dict[str, Terms]:
    workshop = programme.workshop
    chosen = list(_chosen(programme))
    return {
        "promises moved": {
            programme.moves[each.reservation, option.lot]: -1
            for each in workshop.movable
            for option in each.options
        },
        "how well they fit": {column: -option.rank * each for column, option, each in chosen},
        "sizes used up": dict.fromkeys(programme.used_up.values(), -1),
        "oldest first": {column: -option.age * each for column, option, each in chosen},
    }


def _chosen(programme: Programme) -> Iterable[tuple[int, Option, int]]:
    """Yield each column that takes pieces, from where, and how many it stands for."""
    for asking in programme.workshop.askings:
        for way, wants in enumerate(asking.ways):
            for want in wants:
                for option in want.options:
                    key = (asking.job, way, want.need, option.lot)
                    if key in programme.takes:
                        yield programme.takes[key], option, 1
    for each in programme.workshop.movable:
        for option in each.options:
            yield programme.moves[each.reservation, option.lot], option, each.pieces
