"""What an evening would promise: every new promise, every move, and what each rests on.

It can be written down and read back, so that a person promises just what was shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from typing import Any, Self

from sqlalchemy import select

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import Conflict, Problem
from sparewell.jobs.ground import Ground, NeedPieces, ground_of, present_pieces
from sparewell.jobs.tables import Job, JobState
from sparewell.lots.tables import Lot
from sparewell.plans.moving import MovedPromise, settle
from sparewell.plans.naming import made_or_stale
from sparewell.reservations.promising import Margins, NewPromise
from sparewell.reservations.settling import Move, may_move
from sparewell.reservations.tables import Reservation
from sparewell.tonight.evening import Evening, Settled, Take
from sparewell.work import Work

_Document = dict[str, Any]


@dataclass(frozen=True)
class Promises:
    """Everything that an evening would promise and move, from which lots, and its grounds."""

    grounds: Sequence[Ground]
    promises: Sequence[NewPromise]
    moves: Sequence[Move]
    from_lots: dict[int, int]

    @classmethod
    def of(cls, work: Work, found: Evening) -> Self:
        """Return what an evening would promise."""
        promises = [
            _new(each.job.id, take.need.id, take)
            for each in found.finishable
            for take in each.takes
        ]
        wanted = _wanted_lots(found)
        moves = [
            Move(row.id, _new(row.job_id, row.need_id, each), wanted.get(each.from_lot.id))
            for row, each in ((each.reservation, each) for each in found.settles)
        ]
        jobs = {each.job_id for each in promises} | {move.to.job_id for move in moves}
        wantings = [found.table.wantings[job_id] for job_id in sorted(jobs)]
        return cls(
            [ground_of(work, each.job, each.held) for each in wantings],
            promises,
            moves,
            {each.reservation.id: each.from_lot.id for each in found.settles},
        )

    @property
    def job_numbers(self) -> list[str]:
        """The jobs that are promised something."""
        return [number_of(JOB_PREFIX, each) for each in sorted({p.job_id for p in self.promises})]

    def written(self) -> _Document:
        """Return it as a document."""
        return {
            "grounds": [
                {
                    **asdict(each),
                    "looked_at": sorted(each.looked_at),
                    "pieces": [asdict(pieces) for pieces in each.pieces],
                }
                for each in self.grounds
            ],
            "promises": [_written(each) for each in self.promises],
            "moves": [
                {
                    "reservation": each.reservation_id,
                    "to": _written(each.to),
                    "moved_for": each.moved_for,
                }
                for each in self.moves
            ],
            "from_lots": [list(pair) for pair in self.from_lots.items()],
        }

    @classmethod
    def read(cls, document: _Document) -> Self:
        """Return what a document says."""
        grounds = [
            Ground(
                **{
                    **each,
                    "need_ids": tuple(each["need_ids"]),
                    "looked_at": frozenset(each["looked_at"]),
                    "pieces": frozenset(NeedPieces(**pieces) for pieces in each["pieces"]),
                }
            )
            for each in document["grounds"]
        ]
        return cls(
            grounds,
            [_read(each) for each in document["promises"]],
            [
                Move(each["reservation"], _read(each["to"]), each["moved_for"])
                for each in document["moves"]
            ],
            dict(document["from_lots"]),
        )


def _wanted_lots(found: Evening) -> dict[int, int]:
    """Return by lot the job that a promise on it makes room for."""
    moved_to = {each.lot.id: each.reservation.job_id for each in found.settles}
    taken = {take.lot.id: each.job.id for each in found.finishable for take in each.takes}
    return moved_to | taken


def _new(job_id: int, need_id: int | None, taken: Take | Settled) -> NewPromise:
    lot = taken.lot
    is_alone = lot.donor_id is None
    return NewPromise(
        lot.id,
        taken.quantity,
        job_id,
        need_id,
        taken.verdict,
        taken.why,
        version=lot.version,
        is_alone=is_alone,
        margins=taken.margins,
        pinned=not is_alone,
    )


def _written(promise: NewPromise) -> _Document:
    margins = promise.margins
    kept = None if margins is None else [margins.calculator, margins.kept]
    return {**asdict(replace(promise, margins=None)), "margins": kept}


def _read(document: _Document) -> NewPromise:
    kept = document["margins"]
    return NewPromise(**{**document, "margins": None if kept is None else Margins.read(*kept)})


def carry_out(
    work: Work, found: Promises, note: str, lasts: timedelta | None
) -> tuple[list[Reservation], list[MovedPromise]]:
    """Promise all of it in this transaction, or nothing. Raises :class:`Stale`."""
    promises = [replace(each, note=note) for each in found.promises]
    made = made_or_stale(work, settle(work, found.grounds, found.moves, promises, lasts))
    new = made[: len(promises)]
    moved = [
        MovedPromise(move, found.from_lots[move.reservation_id], successor)
        for move, successor in zip(found.moves, made[len(promises) :], strict=True)
    ]
    return new, moved


def refuse_changed(work: Work, found: Promises) -> None:
    """Refuse what cannot be promised as it was shown, and say what has changed since."""
    changes = [*_of_jobs(work, found), *_of_lots(work, found), *_of_moves(work, found)]
    if changes:
        raise Conflict(
            f"the plan no longer holds, so nothing was promised: {'; '.join(changes)}",
            [Problem("/plan", each) for each in changes],
        )


def _of_jobs(work: Work, found: Promises) -> list[str]:
    ids = [each.job_id for each in found.grounds]
    statement = select(Job).where(Job.id.in_(ids))
    jobs = {job.id: job for job in work.session.scalars(statement).unique()}
    present = present_pieces(
        work.session, [need for each in found.grounds for need in each.need_ids]
    )
    changes = []
    for before in found.grounds:
        job = jobs.get(before.job_id)
        number = number_of(JOB_PREFIX, before.job_id)
        if job is None or job.state != JobState.OPEN:
            changes.append(f"{number} is {'gone' if job is None else job.state}")
            continue
        now = ground_of(work, job, [])
        if now.versions[:2] != before.versions[:2]:
            changes.append(f"{number} has changed")
        elif now.versions[2:4] != before.versions[2:4]:
            changes.append(f"{job.pen.number} has changed")
        elif now.settings_version != before.settings_version:
            return [*changes, "the settings have changed"]
        elif _held_of(present, before) != before.pieces:
            changes.append(f"what {number} is promised has changed")
    return changes


def _held_of(present: Iterable[NeedPieces], ground: Ground) -> frozenset[NeedPieces]:
    """Return what the needs looked at have now."""
    return frozenset(each for each in present if each.need_id in ground.looked_at)


def _of_lots(work: Work, found: Promises) -> list[str]:
    """Say which lots have changed, or have too few pieces once what moves has gone."""
    taking = [*found.promises, *(move.to for move in found.moves)]
    wanted: dict[int, int] = {}
    for each in taking:
        wanted[each.lot_id] = wanted.get(each.lot_id, 0) + each.quantity
    for move in found.moves:
        lot_id = found.from_lots[move.reservation_id]
        if lot_id in wanted:
            wanted[lot_id] -= move.to.quantity
    lots = work.session.scalars(select(Lot).where(Lot.id.in_(wanted))).unique()
    present = {lot.id: lot for lot in lots}
    versions = {each.lot_id: each.version for each in taking}
    changes = []
    for lot_id, pieces in sorted(wanted.items()):
        lot = present.get(lot_id)
        if lot is None or lot.version != versions[lot_id]:
            changes.append(f"bag {lot_id} has changed")
        elif lot.available < pieces:
            changes.append(f"{pieces} of bag {lot_id} wanted, and {lot.available} available")
    return changes


def _of_moves(work: Work, found: Promises) -> list[str]:
    ids = [move.reservation_id for move in found.moves]
    rows = work.session.scalars(select(Reservation).where(Reservation.id.in_(ids)))
    return [
        f"reservation {row.id} is {'pinned' if row.pinned else row.state}"
        for row in rows
        if not (may_move(row) and row.promised)
    ]
