"""What rows of donors, of pens and of past jobs become."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select

from sparewell.catalogue.operations import kind_named
from sparewell.catalogue.tables import Part
from sparewell.database.numbers import PEN_PREFIX, id_of
from sparewell.donors.operations import NewComponent, create_donor, lines_of
from sparewell.donors.schemas import NewDonorSchema
from sparewell.donors.tables import ComponentState
from sparewell.filling_systems.operations import offered_system
from sparewell.imports.cells import folded
from sparewell.imports.forms import MOST_DOUBTS, ImportForm, RowRefused, Said
from sparewell.imports.named import found_by
from sparewell.imports.past_jobs import PastJobSchema
from sparewell.imports.stock_forms import noon
from sparewell.imports.targets import DONORS, JOBS, PENS
from sparewell.jobs.operations import open_job
from sparewell.jobs.tables import Job, JobState
from sparewell.ledger.operations import LedgerLine, change_balance, record
from sparewell.ledger.tables import Verb
from sparewell.lots.operations import NewLot, described_lot
from sparewell.lots.tables import Lot
from sparewell.outcomes.operations import add_outcome
from sparewell.pens.operations import NewPen, create_pen, read_readings, reading_warnings
from sparewell.pens.schemas import NewPenSchema
from sparewell.pens.tables import Pen
from sparewell.places.operations import tray_of
from sparewell.reservations.tables import Reservation, ReservationState
from sparewell.work import Work


class Donors(ImportForm):
    """Rows of donors: each with the kinds of parts that it has, or has not any more."""

    schema = NewDonorSchema

    def look_up(self, rows: Iterable[Said]) -> None:
        """Nothing is named by number."""

    def apart(self, values: dict[str, Any]) -> dict[str, Any]:
        """Take out the lists of kinds."""
        return {state: values.pop(state, []) for state in ComponentState}

    def faults(self, row: Said, loaded: Mapping[str, Any]) -> Iterator[RowRefused]:  # noqa: ARG002 - the row has the kinds
        """Refuse what is no kind of part."""
        for state in ComponentState:
            for said in row.values[state]:
                if self._kind(said) is None:
                    known = ", ".join(self.work.declared.kinds)
                    yield RowRefused(state, f"{said!r} is no kind of part", known)

    def check(self, row: Said, loaded: dict[str, Any]) -> dict[str, Any]:
        """Return the donor."""
        components = [
            NewComponent(str(self._kind(said)), state)
            for state in ComponentState
            for said in row.values[state]
        ]
        return loaded | {"components": components}

    def _kind(self, said: str) -> str | None:
        name = folded(said).replace(" ", "_")
        known = self.work.declared.kinds
        return next((each for each in (name, name.removesuffix("s")) if each in known), None)

    def write(self, work: Work, name: str) -> tuple[dict[str, Any], int | None]:
        """Write the donors; every piece in them arrives in one group."""
        lines: list[LedgerLine] = []
        for item in self.items:
            donor = create_donor(work, item["called"], item["materials"], (), item["note"])
            lines += lines_of(work, donor, item["components"])
        movements = record(work, name, *lines) if lines else []
        made = {"donors": len(self.items), "pieces": len(lines)}
        return made, movements[0].act_id if movements else None


class Pens(ImportForm):
    """Rows of pens on the bench, with their readings."""

    schema = NewPenSchema

    def look_up(self, rows: Iterable[Said]) -> None:  # noqa: ARG002 - looked up as they come
        """Begin to look up filling systems."""
        self._systems: dict[str, Any] = {}
        self._doubts: list[str] = []

    def check(self, row: Said, loaded: dict[str, Any]) -> NewPen:
        """Return the pen. Raises :class:`Impossible`."""
        name = loaded["filling_system"]
        if name not in self._systems:
            self._systems[name] = offered_system(self.work, name).system
        readings = read_readings(self.work, loaded["readings"], self._systems[name])
        if len(self._doubts) < MOST_DOUBTS:
            doubts = reading_warnings(self.work.declared, {each.name: each for each in readings})
            self._doubts += [f"row {row.number}: {doubt}" for doubt in doubts]
        return NewPen.said(loaded)

    def notices(self) -> list[str]:
        """Say what the API would warn of, by the row that it is about."""
        return self._doubts

    def write(
        self,
        work: Work,
        name: str,  # noqa: ARG002 - no piece moves
    ) -> tuple[dict[str, Any], int | None]:
        """Write the pens."""
        for item in self.items:
            create_pen(work, item)
        return {"pens": len(self.items)}, None


@dataclass(frozen=True)
class ReadyJob:
    """A past job that was checked. `pen_id` is that of a pen here; else a pen is made."""

    said: Mapping[str, Any]
    pen_id: int | None


class PastJobs(ImportForm):
    """Rows of jobs that were done before: each becomes a closed job.

    What was fitted arrives and leaves again in the same group, so that the ledger explains it and
    nothing of it is in hand.
    """

    schema = PastJobSchema

    def look_up(self, rows: Iterable[Said]) -> None:
        """Find the parts and the pens that the rows name."""
        session = self.work.session
        numbers = {str(row.values.get("part", "")) for row in rows}
        self._parts: dict[str, Part] = found_by(session, Part.number, numbers)
        self._pens: dict[str, list[int]] = {}
        in_use = select(Pen.id, Pen.called).where(Pen.retired_at.is_(None)).order_by(Pen.id)
        for pen_id, called in session.execute(in_use):
            self._pens.setdefault(called.casefold(), []).append(pen_id)
        self._ids = {pen_id for ids in self._pens.values() for pen_id in ids}

    def faults(self, row: Said, loaded: Mapping[str, Any]) -> Iterator[RowRefused]:  # noqa: ARG002 - all is loaded
        """Refuse days to come, and pens, parts and kinds that do not go together."""
        done_on, number, kind = (loaded.get(name) for name in ("done_on", "part", "kind"))
        if done_on and done_on > self.work.now.date():
            yield RowRefused("done_on", f"{done_on} is still to come", "a past day")
        part = self._parts.get(number) if number else None
        if number and part is None:
            accepted = "the number of a part that is there; or only its kind"
            yield RowRefused("part", f"there is no part {number!r}", accepted)
        if part is not None and kind not in {None, part.kind}:
            detail = f"part {number!r} is a {part.kind}"
            yield RowRefused("kind", detail, "the kind of the part, or nothing")
        if "pen" in loaded:
            yield from self._refused_pen(loaded)

    def check(self, row: Said, loaded: dict[str, Any]) -> ReadyJob:  # noqa: ARG002 - as above
        """Return the job. Raises :class:`Impossible`."""
        found = self._pens_named(loaded["pen"])
        if not found:
            offered_system(self.work, loaded["filling_system"])
        return ReadyJob(loaded, found[0] if found else None)

    def _pens_named(self, named: str) -> Sequence[int]:
        """Return the pens of a number, or of a name."""
        pen_id = id_of(PEN_PREFIX, named)
        if pen_id:
            return [pen_id] if pen_id in self._ids else []
        return self._pens.get(named.casefold(), [])

    def _refused_pen(self, loaded: Mapping[str, Any]) -> Iterator[RowRefused]:
        named = loaded["pen"]
        found = self._pens_named(named)
        if len(found) > 1:
            detail = f"{len(found)} pens are called {named!r}"
            yield RowRefused("pen", detail, "the number of one of them, such as PEN-0001")
        if not found and id_of(PEN_PREFIX, named):
            yield RowRefused("pen", f"there is no pen {named!r} in use", "one that is")
        elif not found and "filling_system" not in loaded:
            yield RowRefused(
                "pen",
                f"no pen here is called {named!r}, and without its filling system none can be made",
                "the number of a pen, what one is called, or a filling system in this row",
            )

    def write(self, work: Work, name: str) -> tuple[dict[str, Any], int | None]:
        """Write pens that are lacking, the jobs, what was fitted, and how it turned out."""
        made_pens: dict[tuple[str, str], Pen] = {}
        fitted: list[tuple[Reservation, Mapping[str, Any], datetime]] = []
        lines: list[LedgerLine] = []
        for item in self.items:
            job = self._job(work, self._pen_of(work, item, made_pens), item.said)
            if {"part", "kind"} & item.said.keys():
                reservation, some = self._fit(work, job, item.said)
                fitted.append((reservation, item.said, job.ended_at or work.now))
                lines += some
        movements = record(work, name, *lines) if lines else []
        outcomes = [each for each in fitted if each[1]["outcome"]]
        for reservation, said, at in outcomes:
            add_outcome(work, reservation, said["outcome"], "").at = at
        work.session.flush()
        made = {"jobs": len(self.items), "pens": len(made_pens), "outcomes": len(outcomes)}
        made["pieces"] = sum(line.pieces for line in lines if line.verb == Verb.ARRIVED)
        return made, movements[0].act_id if movements else None

    def _pen_of(self, work: Work, item: ReadyJob, made: dict[tuple[str, str], Pen]) -> Pen:
        if item.pen_id is not None:
            return work.session.get_one(Pen, item.pen_id)
        said = item.said
        key = (said["pen"].casefold(), said["filling_system"])
        if key not in made:
            new = NewPen(said["pen"], said["filling_system"], owner=said["owner"])
            made[key] = create_pen(work, new)
        return made[key]

    @staticmethod
    def _job(work: Work, pen: Pen, said: Mapping[str, Any]) -> Job:
        """Open a job as it was, and end it on its day."""
        job = open_job(work, pen, said["note"])
        ended_at = noon(said["done_on"], work.now)
        job.state = JobState.CLOSED
        job.created_at = job.ended_at = ended_at
        job.glue, job.ink = said["glue"], said["ink"]
        return job

    def _fit(
        self, work: Work, job: Job, said: Mapping[str, Any]
    ) -> tuple[Reservation, list[LedgerLine]]:
        """Let pieces arrive in the job's tray and leave it for the pen."""
        quantity, tray = said["quantity"], tray_of(work, job.number)
        lot = self._lot(work, said)
        lot.place, lot.arrived_at = tray, job.ended_at or work.now
        work.session.add(lot)
        work.session.flush()
        need = next((need for need in job.needs if need.kind == lot.kind), None)
        reservation = Reservation(
            lot_id=lot.id,
            job_id=job.id,
            need_id=need.id if need else None,
            quantity=quantity,
            promised=0,
            used=quantity,
            ended_as=ReservationState.USED,
            actor=work.actor.token,
            person=work.actor.person,
            created_at=job.ended_at or work.now,
        )
        work.session.add(reservation)
        work.session.flush()
        taken = change_balance(work.session, lot.id, in_hand=-quantity)
        assert taken, "the pieces have just arrived"  # noqa: S101 - the CHECK says it too
        arrived = LedgerLine(lot, Verb.ARRIVED, quantity, quantity, place_id=tray.id)
        left = LedgerLine(
            lot,
            Verb.FITTED,
            -quantity,
            quantity,
            place_id=tray.id,
            reservation_id=reservation.id,
            job_id=job.id,
        )
        return reservation, [arrived, left]

    def _lot(self, work: Work, said: Mapping[str, Any]) -> Lot:
        new = NewLot(quantity=said["quantity"], label=said.get("label"))
        if "part" in said:
            part = work.session.get_one(Part, self._parts[said["part"]].id)
            return described_lot(work, part, new)
        return described_lot(work, kind_named(work.declared, said["kind"]), new)


FORMS: Mapping[str, type[ImportForm]] = {DONORS: Donors, PENS: Pens, JOBS: PastJobs}
