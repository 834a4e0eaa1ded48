"""What an answer for a job is worked out from, and whether it is still so when it is acted on.

An answer is worked out with nothing locked. Then the job is locked, and what the answer rests on is
compared: versions in one statement, and what the needs of the job have in another. The lots that
pieces are promised of are compared as their balances are moved.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session

from sparewell.errors import Conflict
from sparewell.jobs.held import HeldPiece, put_back_pieces
from sparewell.jobs.operations import Cover
from sparewell.jobs.tables import Job, JobState, Need
from sparewell.lots.tables import Lot
from sparewell.pens.tables import Pen
from sparewell.reservations.tables import Reservation
from sparewell.settings.operations import present_version
from sparewell.settings.tables import SettingChange
from sparewell.work import Stale, Work

_PEN: Final = select(Pen.version).where(Pen.id == bindparam("pen_id")).scalar_subquery()
_SETTINGS: Final = select(func.coalesce(func.max(SettingChange.id), 0)).scalar_subquery()
_VERSIONS: Final = (
    select(Job.version, _PEN, _SETTINGS)
    .where(Job.id == bindparam("job_id"))
    .with_for_update(key_share=True, of=Job)
)
_VERSIONS_OF_EACH: Final = (
    select(
        Job.id,
        Job.version,
        Job.pen_id,
        select(Pen.version).where(Pen.id == Job.pen_id).scalar_subquery(),
        _SETTINGS,
    )
    .where(Job.id.in_(bindparam("job_ids", expanding=True)))
    .order_by(Job.id)
    .with_for_update(key_share=True, of=Job)
)
_PIECES: Final = (
    select(
        Reservation.need_id,
        Lot.id,
        Lot.version,
        Reservation.promised,
        Reservation.used - put_back_pieces(),
    )
    .join(Lot, Lot.id == Reservation.lot_id)
    .where(Reservation.need_id.in_(bindparam("need_ids", expanding=True)))
)


@dataclass(frozen=True)
class NeedPieces:
    """Pieces of one lot, as its facts were then, that a need has: promised, and used for good."""

    need_id: int
    lot_id: int
    version: int
    promised: int
    used: int


@dataclass(frozen=True)
class Ground:
    """A job, its pen and the settings as they were, and what was had for the needs looked at."""

    job_id: int
    job_version: int
    pen_id: int
    pen_version: int
    settings_version: int
    need_ids: tuple[int, ...]
    looked_at: frozenset[int]
    pieces: frozenset[NeedPieces]

    @property
    def versions(self) -> tuple[int, int, int, int, int]:
        """The job and its pen with their versions, and that of the settings."""
        of_job, of_pen = (self.job_id, self.job_version), (self.pen_id, self.pen_version)
        return (*of_job, *of_pen, self.settings_version)

    def lock(self, work: Work) -> frozenset[NeedPieces]:
        """Lock the job, and return what all its needs have now.

        Raises :class:`Stale` where anything that was looked at is not as it was.
        """
        of_this = {"job_id": self.job_id, "pen_id": self.pen_id}
        present = tuple(work.session.connection().execute(_VERSIONS, of_this).one())
        if present != (self.job_version, self.pen_version, self.settings_version):
            raise Stale
        return self.unchanged(present_pieces(work.session, self.need_ids))

    def unchanged(self, present: Iterable[NeedPieces]) -> frozenset[NeedPieces]:
        """Return what the needs of this job have of all that is present. Raises :class:`Stale`."""
        pieces = frozenset(each for each in present if each.need_id in self.need_ids)
        if {each for each in pieces if each.need_id in self.looked_at} != self.pieces:
            raise Stale
        return pieces


def lock_each(work: Work, grounds: Iterable[Ground]) -> Mapping[int, frozenset[NeedPieces]]:
    """Lock several jobs in the order of their ids; return by job what its needs have now.

    Two statements however many they are. Raises :class:`Stale` where any of it is not as it was.
    """
    by_job = {ground.job_id: ground for ground in grounds}
    found = work.session.connection().execute(_VERSIONS_OF_EACH, {"job_ids": list(by_job)}).all()
    if {tuple(row) for row in found} != {ground.versions for ground in by_job.values()}:
        raise Stale
    need_ids = [need_id for ground in by_job.values() for need_id in ground.need_ids]
    present = present_pieces(work.session, need_ids)
    return {job_id: ground.unchanged(present) for job_id, ground in by_job.items()}


def ground_of(
    work: Work, job: Job, held: Iterable[HeldPiece], needs: Iterable[Need] | None = None
) -> Ground:
    """Return what an answer for an open job is worked out from: `held` for these needs, or all.

    Raises :class:`Conflict`.
    """
    if job.state != JobState.OPEN:
        raise Conflict(f"{job.number} is {job.state}; nothing more can be done on it")
    return Ground(
        job.id,
        job.version,
        job.pen.id,
        job.pen.version,
        present_version(work.session, work.declared),
        tuple(need.id for need in job.needs),
        frozenset(need.id for need in (job.needs if needs is None else needs)),
        _together(
            (each.need_id, each.lot.id, each.lot.version, each.promised, each.used) for each in held
        ),
    )


def covers_now(need_ids: Collection[int], pieces: Iterable[NeedPieces]) -> dict[int, Cover]:
    """Return, by need, how much of it is covered."""
    covers = dict.fromkeys(need_ids, Cover())
    for each in pieces:
        before = covers[each.need_id]
        covers[each.need_id] = Cover(before.promised + each.promised, before.used + each.used)
    return covers


def present_pieces(session: Session, need_ids: Collection[int]) -> frozenset[NeedPieces]:
    """Return what some needs have now."""
    found = session.connection().execute(_PIECES, {"need_ids": need_ids})
    return _together(
        (need_id, lot_id, version, promised, used)
        for need_id, lot_id, version, promised, used in found
    )


def _together(rows: Iterable[tuple[int | None, int, int, int, int]]) -> frozenset[NeedPieces]:
    """Add up what a need has of a lot; what was all put back again it does not have."""
    sums: dict[tuple[int, int, int], tuple[int, int]] = {}
    for need_id, lot_id, version, promised, used in rows:
        if need_id is not None:
            before = sums.get((need_id, lot_id, version), (0, 0))
            sums[need_id, lot_id, version] = (before[0] + promised, before[1] + used)
    return frozenset(NeedPieces(*key, *pieces) for key, pieces in sums.items() if any(pieces))
