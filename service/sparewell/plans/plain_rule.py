"""Sharing pieces out by a plain rule: job by job, and whoever has a piece gives way where it can.

Where every job lacks one piece, as many are finished as can be (augmenting paths, C. Berge, "Two
theorems in graph theory", 1957; from memory, and checked against another program's matching in
`tests/unit/test_sharing.py`). A job that lacks several is finished wholly, or takes nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sparewell.plans.sharing import Asking, Movable, Option, Share, Want, Weight, Workshop


@dataclass(frozen=True, eq=False)
class _Place:
    """Pieces that come from one lot together: one of a want, or a whole promise."""

    job: int
    need: int
    pieces: int
    options: tuple[Option, ...]
    reservation: int | None = None
    is_kept: bool = False


def share_out(workshop: Workshop) -> Share:
    """Return a share in which no single job more could be finished by giving way."""
    table = _Table(workshop)
    ways: dict[int, int] = {}
    spent = 0
    for asking, is_kept in _in_turn(workshop):
        if is_kept:
            if asking.job not in ways:
                table.keep(asking)
            continue
        left = None if workshop.minutes is None else workshop.minutes - spent
        if asking.waits or (left is not None and asking.minutes > left):
            continue
        way = table.finish(asking)
        if way is not None:
            ways[asking.job] = way
            spent += asking.minutes
    return table.share(ways)


def _in_turn(workshop: Workshop) -> Iterator[tuple[Asking, bool]]:
    """Yield the jobs in their turn; a dated one that has to wait keeps its pieces then."""
    dated = workshop.dated
    named = {each.job for each in dated}
    others = [each for each in workshop.askings if each.job not in named]
    match workshop.weight:
        case Weight.COUNT:
            everybody = sorted(workshop.askings, key=_fewest_pieces)
            yield from ((each, False) for each in everybody)
        case Weight.VALUE:
            everybody = sorted(workshop.askings, key=lambda each: (-each.value, each.job))
            yield from ((each, False) for each in everybody)
        case Weight.PROMISED:
            yield from ((each, False) for each in dated)
            yield from ((each, True) for each in workshop.kept_for)
            yield from ((each, False) for each in sorted(others, key=_fewest_pieces))


def _fewest_pieces(asking: Asking) -> tuple[int, int]:
    least = min((sum(want.pieces for want in way) for way in asking.ways), default=0)
    return least, asking.job


class _Table:
    """Who has pieces of which lot at the moment."""

    def __init__(self, workshop: Workshop) -> None:
        self._workshop = workshop
        self._capacity = workshop.capacity
        self._outside: dict[int, list[int]] = {}
        for lot, inner in workshop.inside.items():
            for each in inner:
                self._outside.setdefault(each, []).append(lot)
        self._used: Counter[int] = Counter()
        self._in_vain: set[int] = set()
        self._steps: list[tuple[_Place, int, bool]] = []
        self._at: dict[_Place, int] = {}
        self._on: dict[int, dict[_Place, None]] = {}
        for movable in workshop.movable:
            self._sit(_of_promise(movable), movable.lot)

    def finish(self, asking: Asking) -> int | None:
        """Give a job all it wants in one of its ways; None, and nothing changed, where none is."""
        self._steps.clear()
        for way, wants in enumerate(asking.ways):
            places = [place for want in wants for place in _places(asking, want)]
            in_vain = next((place for place in places if not self._seat(place, set())), None)
            if in_vain is None:
                return way
            self._take_back()
            self._give_up(in_vain)
        return None

    def _give_up(self, place: _Place) -> None:
        """Look no more for pieces where a job by itself would find none: none ever come back."""
        tried: set[int] = set()
        if self._seat(place, tried):
            self._take_back()
        else:
            self._in_vain |= tried

    def keep(self, asking: Asking) -> None:
        """Put by for a job what it wants and can be had, in the first of its ways."""
        for want in asking.ways[0] if asking.ways else ():
            for place in _places(asking, want, is_kept=True):
                self._seat(place, set())

    def share(self, ways: dict[int, int]) -> Share:
        """Return how things stand."""
        takes: Counter[tuple[int, int]] = Counter()
        kept: Counter[tuple[int, int]] = Counter()
        moves = {}
        for place, lot in self._at.items():
            if place.reservation is not None:
                moves[place.reservation] = lot
            else:
                (kept if place.is_kept else takes)[place.need, lot] += place.pieces
        movable = {each.reservation: each.lot for each in self._workshop.movable}
        changed = {row_id: lot for row_id, lot in moves.items() if lot != movable[row_id]}
        return Share(ways, dict(takes), changed, dict(kept))

    def _take_back(self) -> None:
        """Undo every step since the job came in."""
        for place, lot, is_sitting in reversed(self._steps.copy()):
            if is_sitting:
                self._rise(place)
            else:
                self._sit(place, lot)
        self._steps.clear()

    def _sit(self, place: _Place, lot: int) -> None:
        self._at[place] = lot
        self._on.setdefault(lot, {})[place] = None
        self._used[lot] += place.pieces
        self._steps.append((place, lot, True))

    def _rise(self, place: _Place) -> None:
        lot = self._at.pop(place)
        del self._on[lot][place]
        self._used[lot] -= place.pieces
        self._steps.append((place, lot, False))

    def _seat(self, place: _Place, tried: set[int]) -> bool:
        """Find pieces for a place: free ones, else some whose holder can take others."""
        options = [
            each
            for each in place.options
            if each.lot not in tried and each.lot not in self._in_vain
        ]
        for option in options:
            if self._free(place, option.lot) >= place.pieces:
                self._sit(place, option.lot)
                return True
        for option in options:
            if option.lot in tried or self._is_of_a_family(option.lot):
                continue
            tried.add(option.lot)
            if self._make_room(place, option.lot, tried):
                self._sit(place, option.lot)
                return True
        return False

    def _make_room(self, place: _Place, lot: int, tried: set[int]) -> bool:
        lacking = place.pieces - self._free(place, lot)
        for other in list(self._on.get(lot, ())):
            if other.pieces < lacking:
                continue
            self._rise(other)
            if self._seat(other, tried):
                return True
            self._sit(other, lot)
        return False

    def _free(self, place: _Place, lot: int) -> int:
        """Return how many pieces of a lot are free, with all that goes along with them."""
        left = self._capacity.get(lot, 0) - self._used[lot]
        if not self._is_of_a_family(lot):
            return left
        for other in (*self._outside.get(lot, ()), *self._workshop.inside.get(lot, ())):
            if any(each.job != place.job for each in self._on.get(other, ())):
                return 0
        for inner in self._workshop.inside.get(lot, ()):
            if self._capacity.get(inner, 0) < place.pieces:
                return 0
            if any(
                each.job != place.job
                for outer in self._outside[inner]
                for each in self._on.get(outer, ())
            ):
                return 0
        return left

    def _is_of_a_family(self, lot: int) -> bool:
        return bool(self._workshop.inside.get(lot) or self._outside.get(lot))


def _of_promise(movable: Movable) -> _Place:
    return _Place(
        movable.job,
        movable.need,
        movable.pieces,
        (*_best_first(movable.options), Option(movable.lot)),
        movable.reservation,
    )


def _places(asking: Asking, want: Want, *, is_kept: bool = False) -> Iterable[_Place]:
    options = tuple(_best_first(want.options))
    return [_Place(asking.job, want.need, 1, options, is_kept=is_kept) for _ in range(want.pieces)]


def _best_first(options: Iterable[Option]) -> Sequence[Option]:
    return sorted(options, key=lambda each: (each.rank, each.age, each.lot))
