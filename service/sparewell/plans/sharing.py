"""Pieces shared out among jobs, as plain numbers: who wants what, and what a share is worth.

Nothing here knows the database or a solver. :func:`levels_of` reckons any share exactly, and
:func:`fault_of` says what keeps one from being carried out. Whoever makes a share, the plain rule
of `plans/plain_rule.py` or a solver, is measured by them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum


class Weight(StrEnum):
    """What comes first where not every pen can be finished."""

    COUNT = "count"
    PROMISED = "promised"
    VALUE = "value"


@dataclass(frozen=True)
class Option:
    """A lot whose pieces would do: how well, and how old its rubber is; less is better in both."""

    lot: int
    rank: int = 0
    age: int = 0


@dataclass(frozen=True)
class Want:
    """So many pieces that a need lacks, and the lots they may come from."""

    need: int
    pieces: int
    options: tuple[Option, ...]


@dataclass(frozen=True)
class Movable:
    """A promise that may move as a whole to one of these lots, which do no worse."""

    reservation: int
    job: int
    need: int
    lot: int
    pieces: int
    options: tuple[Option, ...] = ()


@dataclass(frozen=True)
class Asking:
    """A job and the ways in which it can be finished: with one bar and its sacs, or with another.

    `promised_on` is the ordinal of the day; `minutes` are those that it takes by hand. One that
    `waits` cannot be finished tonight, whatever it is given.
    """

    job: int
    ways: tuple[tuple[Want, ...], ...]
    promised_on: int | None = None
    value: int = 0
    minutes: int = 0
    waits: bool = False


@dataclass(frozen=True)
class Workshop:
    """All jobs and all pieces. `free` is by lot, with what the movable promises hold not in it.

    `inside` says what is fixed in a lot and goes along with it; `sizes` which lots are of one size.
    """

    askings: tuple[Asking, ...]
    free: Mapping[int, int]
    movable: tuple[Movable, ...] = ()
    inside: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    sizes: Mapping[int, str] = field(default_factory=dict)
    minutes: int | None = None
    weight: Weight = Weight.PROMISED

    @property
    def dated(self) -> list[Asking]:
        """The jobs that were promised for a day, the soonest first."""
        days = [(each.promised_on, each.job, each) for each in self.askings if each.promised_on]
        return [each for _, _, each in sorted(days, key=lambda entry: entry[:2])]

    @property
    def capacity(self) -> dict[int, int]:
        """How many pieces of each lot there are to share out, movable promises among them."""
        found = Counter(dict(self.free))
        for each in self.movable:
            found[each.lot] += each.pieces
        return found

    @property
    def kept_for(self) -> list[Asking]:
        """The dated jobs for which pieces are put by, though they are not finished tonight."""
        return self.dated if self.weight is Weight.PROMISED else []


@dataclass(frozen=True)
class Share:
    """Which jobs are finished in which of their ways, what each need takes, and what moves where.

    `kept` are pieces that a dated job wants and that are left for it, though it has to wait.
    """

    ways: Mapping[int, int] = field(default_factory=dict)
    takes: Mapping[tuple[int, int], int] = field(default_factory=dict)
    moves: Mapping[int, int] = field(default_factory=dict)
    kept: Mapping[tuple[int, int], int] = field(default_factory=dict)


@dataclass(frozen=True)
class ChosenShare:
    """A share, whether no better one exists, how far off it may be, and how it was found."""

    share: Share
    is_proven: bool
    gap: float | None
    how: str


@dataclass(frozen=True)
class Level:
    """One thing to be made as much of as can be, before anything that comes after it."""

    name: str
    amount: int


def wants_of(asking: Asking, way: int) -> Mapping[int, Want]:
    """Return by need what a job wants in one of its ways."""
    return {want.need: want for want in asking.ways[way]}


def levels_of(workshop: Workshop, share: Share) -> tuple[Level, ...]:
    """Return what a share is worth: the first that differs decides between two."""
    finished = [each for each in workshop.askings if each.job in share.ways]
    return (
        *_of_pens(workshop, finished, share),
        Level("promises moved", -sum(1 for _ in moved(workshop, share))),
        *_of_pieces(workshop, finished, share),
    )


def _of_pens(workshop: Workshop, finished: Sequence[Asking], share: Share) -> Iterator[Level]:
    order = {each.job: place for place, each in enumerate(reversed(workshop.dated), 1)}
    pens = Level("pens", len(finished))
    dated = Level("promised pens", sum(each.job in order for each in finished))
    soonest = Level("soonest promised", sum(order.get(each.job, 0) for each in finished))
    match workshop.weight:
        case Weight.COUNT:
            yield from (pens, dated, soonest)
        case Weight.VALUE:
            yield from (Level("value", sum(each.value for each in finished)), pens)
        case Weight.PROMISED:
            kept = Level("left for promised pens", sum(share.kept.values()))
            yield from (dated, soonest, kept, pens)


def _of_pieces(workshop: Workshop, finished: Sequence[Asking], share: Share) -> Iterator[Level]:
    chosen = [
        (option, pieces)
        for asking in finished
        for want in wants_of(asking, share.ways[asking.job]).values()
        for option in want.options
        if (pieces := share.takes.get((want.need, option.lot), 0))
    ]
    chosen += [(option, each.pieces) for each, option in moved(workshop, share)]
    yield Level("how well they fit", -sum(option.rank * pieces for option, pieces in chosen))
    yield Level("sizes used up", -sum(1 for _ in used_up(workshop, share)))
    yield Level("oldest first", -sum(option.age * pieces for option, pieces in chosen))


def moved(workshop: Workshop, share: Share) -> Iterator[tuple[Movable, Option]]:
    """Yield each promise that moves, and where to."""
    for each in workshop.movable:
        lot = share.moves.get(each.reservation, each.lot)
        if lot != each.lot:
            yield each, next(option for option in each.options if option.lot == lot)


def sizes_at_risk(workshop: Workshop) -> Mapping[str, tuple[frozenset[int], int]]:
    """Return the sizes that could be used up: their lots, and how many free pieces there are."""
    lots: dict[str, set[int]] = defaultdict(set)
    for lot in workshop.capacity:
        if lot in workshop.sizes:
            lots[workshop.sizes[lot]].add(lot)
    wanted: Counter[str] = Counter()
    for asking in workshop.askings:
        needs = {want.need: want for way in asking.ways for want in way}
        for want in needs.values():
            named = {workshop.sizes.get(option.lot) for option in want.options}
            wanted.update({size: want.pieces for size in named if size is not None})
    for each in workshop.movable:
        named = {workshop.sizes.get(option.lot) for option in each.options}
        wanted.update({size: each.pieces for size in named if size is not None})
    free = {size: sum(workshop.free.get(lot, 0) for lot in its) for size, its in lots.items()}
    return {
        size: (frozenset(its), free[size])
        for size, its in sorted(lots.items())
        if 0 < free[size] <= wanted[size]
    }


def used_up(workshop: Workshop, share: Share) -> Iterator[str]:
    """Yield each size of which nothing is left free."""
    used = taken_of(workshop, share)
    for size, (lots, free) in sizes_at_risk(workshop).items():
        if sum(used[lot] for lot in lots) >= free:
            yield size


def taken_of(workshop: Workshop, share: Share) -> Counter[int]:
    """Return by lot how many pieces of it are taken in all, less what moves away from it."""
    used: Counter[int] = Counter()
    for (_, lot), pieces in share.takes.items():
        used[lot] += pieces
    for each, option in moved(workshop, share):
        used[option.lot] += each.pieces
        used[each.lot] -= each.pieces
    return used


def fault_of(workshop: Workshop, share: Share) -> str | None:
    """Say what keeps a share from being carried out; None where nothing does."""
    return next(_faults(workshop, share), None)


def _faults(workshop: Workshop, share: Share) -> Iterator[str]:
    wanted: dict[int, Want] = {}
    for asking in workshop.askings:
        if asking.job in share.ways:
            if asking.waits:
                yield f"job {asking.job} has to wait"
            wanted |= wants_of(asking, share.ways[asking.job])
    for want in wanted.values():
        yield from _of_want(want, share)
    strangers = {need for need, _ in share.takes} - wanted.keys()
    if strangers:
        yield f"needs {sorted(strangers)} take pieces, and are not asked for"
    yield from _misplaced(workshop, share)
    yield from _overdrawn(workshop, share)
    spent = sum(each.minutes for each in workshop.askings if each.job in share.ways)
    if workshop.minutes is not None and spent > workshop.minutes:
        yield f"{spent} minutes of {workshop.minutes}"


def _misplaced(workshop: Workshop, share: Share) -> Iterator[str]:
    for each in workshop.movable:
        lot = share.moves.get(each.reservation, each.lot)
        if lot != each.lot and lot not in {option.lot for option in each.options}:
            yield f"reservation {each.reservation} moves to lot {lot}, which would not do"


def _overdrawn(workshop: Workshop, share: Share) -> Iterator[str]:
    capacity = workshop.capacity
    used: Counter[int] = Counter()
    for of_job in used_by_jobs(workshop, share).values():
        used.update(of_job)
    for lot, pieces in used.items():
        if pieces > capacity.get(lot, 0):
            yield f"{pieces} of {capacity.get(lot, 0)} pieces of lot {lot}"


def _of_want(want: Want, share: Share) -> Iterator[str]:
    given = {lot: pieces for (need, lot), pieces in share.takes.items() if need == want.need}
    if sum(given.values()) != want.pieces:
        yield f"need {want.need} takes {given}, and lacks {want.pieces}"
    if not given.keys() <= {option.lot for option in want.options}:
        yield f"need {want.need} takes what would not do: {given}"


def used_by_jobs(workshop: Workshop, share: Share) -> Mapping[int, Counter[int]]:
    """Return by job how many pieces it has of each lot, what goes along with others included.

    What goes along with a piece and is wanted by the same job too is the same piece.
    """
    by_job: dict[int, Counter[int]] = defaultdict(Counter)
    for job, lot, pieces in _uses(workshop, share):
        by_job[job][lot] += pieces
    for takes in by_job.values():
        for lot, pieces in list(takes.items()):
            for inner in workshop.inside.get(lot, ()):
                takes[inner] = max(takes[inner], pieces)
    return by_job


def _uses(workshop: Workshop, share: Share) -> Iterator[tuple[int, int, int]]:
    """Yield what every job has in the end: the job, the lot, and how many pieces."""
    job_of = {want.need: each.job for each in workshop.askings for way in each.ways for want in way}
    for pieces_of in (share.takes, share.kept):
        for (need, lot), pieces in pieces_of.items():
            yield job_of[need], lot, pieces
    for each in workshop.movable:
        yield each.job, share.moves.get(each.reservation, each.lot), each.pieces


def better(workshop: Workshop, shares: Iterable[Share]) -> Share:
    """Return the best of several shares; the first among equals."""
    return max(shares, key=lambda share: [each.amount for each in levels_of(workshop, share)])
