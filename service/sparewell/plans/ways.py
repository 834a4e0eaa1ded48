"""The ways in which a job can be finished, and the pieces that would do for what it asks.

A bar that is still to be chosen decides the sac: so there is a way for each height that it could
have, and in each of them the sac is judged by that height.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from sparewell.errors import Broken, Impossible
from sparewell.extend.declarations import Verdict
from sparewell.fitting import at_hand
from sparewell.fitting.in_hand import Asked, PiecesInHand
from sparewell.fitting.judging import Candidate, piece_of, rank
from sparewell.jobs.inputs import run_for
from sparewell.jobs.tables import Need
from sparewell.lots.tables import Lot
from sparewell.plans.wanting import Sized, Sizer, Wanting
from sparewell.work import Work

MOST_WAYS = 8


@dataclass(frozen=True)
class Way:
    """One way of finishing a job: what each need takes then, with the readings that are settled."""

    wants: tuple[Sized, ...]
    settled: Mapping[str, int] = field(default_factory=dict)


class Pool:
    """The pieces that would do for what is asked; each question is answered once."""

    def __init__(self, work: Work, promised: Sequence[Lot]) -> None:
        self._work, self._promised = work, promised
        self._pieces = PiecesInHand(work)
        self._found: dict[int, list[Candidate]] = {}
        self._asked: list[Asked] = []  # so that their ids stay theirs

    def look_up(self, asked: Iterable[Asked]) -> None:
        """Look up what would do for all of these together."""
        new = {id(each): each for each in asked if id(each) not in self._found}
        self._asked += new.values()
        lots_of = self._pieces.everywhere(list(new.values()))
        reach = at_hand.reach(self._work.session, {lot for lots in lots_of for lot in lots})
        for each, lots in zip(new.values(), lots_of, strict=True):
            seen = {lot.id: lot for lot in lots}
            seen |= {lot.id: lot for lot in self._promised if lot.kind == each.envelope.kind}
            self._found[id(each)] = list(_judged(each, seen.values(), reach))

    def of(self, asked: Asked) -> Sequence[Candidate]:
        """Return what may be taken unasked, the best first."""
        return self._found[id(asked)]


def _judged(asked: Asked, lots: Iterable[Lot], reach: Mapping[int, int]) -> Sequence[Candidate]:
    try:
        judged = [asked.judge.judge(lot, reach.get(lot.id, 0)) for lot in lots]
    except (Impossible, Broken):
        return []  # its job's own plan says what is wrong with it
    return sorted((each for each in judged if each.is_taken_by_itself), key=rank)


def ways_of(work: Work, wanting: Wanting, sizer: Sizer, pool: Pool) -> Iterator[Way]:
    """Yield the ways of finishing a job: one, or one for each height that a new bar could have."""
    if not wanting.settling:
        yield Way(tuple(wanting.sized), wanting.settled)
        return
    first, *_ = wanting.settling
    found: dict[tuple[tuple[str, int], ...], Way] = {}
    for candidate in pool.of(first.asked):
        try:
            settled = first.asked.run.settles(piece_of(candidate.lot))
            key = tuple(sorted(settled.items()))
            if key not in found and len(found) < MOST_WAYS:
                way = _way(work, wanting, sizer, {**wanting.settled, **settled})
                if way is not None:
                    found[key] = way
        except (Impossible, Broken):
            continue
    yield from found.values() or [Way(tuple(wanting.sized), wanting.settled)]


def _way(work: Work, wanting: Wanting, sizer: Sizer, settled: Mapping[str, int]) -> Way | None:
    """Return how a job is finished with these readings; None where what it holds forbids it."""
    for held in wanting.held:
        need = wanting.job.need(held.need_id)
        if need is not None and _reads(work, need, settled):
            asked = sizer.asked(run_for(work, wanting.job, need, settled))
            if asked.judge.judge(held.lot).verdict is Verdict.REFUSED:
                return None
    wants = [
        Sized(each.need, each.pieces, sizer.asked(run_for(work, wanting.job, each.need, settled)))
        if each not in wanting.settling and _reads(work, each.need, settled)
        else each
        for each in wanting.sized
    ]
    return Way(tuple(wants), settled)


def _reads(work: Work, need: Need, settled: Mapping[str, int]) -> bool:
    """Whether a need is sized by a reading that is settled."""
    calculator = work.declared.calculators.get(need.calculator or "")
    inputs = calculator.inputs if calculator is not None else ()
    return any(need.reads.get(each.name, each.name) in settled for each in inputs)
