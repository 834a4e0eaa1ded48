"""Loading the demo workshop into a fresh database, through the operations everybody uses.

1. every line of the data files becomes a step, at its own distance from the moment handed in;
2. the steps are put in the order in which they happened;
3. they are done in a few transactions, each step at its own moment, and after each of these the
   progress is told.

Nothing is random: the same moment always gives the same workshop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from sparewell.catalogue.tables import Part
from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.errors import Conflict
from sparewell.extend.host import Declarations
from sparewell.jobs.tables import Job
from sparewell.ledger.tables import Movement
from sparewell.lots.tables import Lot
from sparewell.pens.tables import Pen
from sparewell.places.tables import Place, PlaceType
from sparewell.reservations.tables import Reservation
from sparewell.work import Actor, Work
from sparewell_demo_seed.files import document_of, rows_of
from sparewell_demo_seed.happenings import DOERS, Known
from sparewell_demo_seed.relative import made_before, moment_before

ACTOR = "demo"
FOUNDED = "2500 days"
READINGS_OF_THE_PAST = (
    "barrel_bore",
    "bar_height",
    "nipple_diameter",
    "barrel_depth",
    "tenon_length",
)
STEPS_PER_TRANSACTION = 100
CHAPTERS = {"make_drawer": "drawers", "make_part": "parts", "take_in": "bags"}

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Workshop:
    """What was loaded: the workshop's name, and how many there are of each."""

    name: str
    drawers: int
    parts: int
    lots: int
    pens: int
    jobs: int
    reservations: int
    movements: int


@dataclass(frozen=True)
class Step:
    """One thing that happened: when, by whom, what, and the line that says it."""

    at: datetime
    person: str
    do: str
    line: Mapping[str, Any]


def _say_nothing(_done: int, _total: int, _what: str) -> None:
    """Take a report of progress and do nothing with it."""


def load_workshop(
    database: Database,
    declared: Declarations,
    now: datetime,
    *,
    progress: Progress = _say_nothing,
) -> Workshop:
    """Load the demo workshop as it would stand at `now`. Raises :class:`Conflict`.

    `progress` is told how many steps of how many are done, and what they were about. A
    database that holds anything already is refused, and nothing is done to it.
    """
    about = document_of("workshop.json")
    steps = story(now)
    known: Known = {}
    done = 0
    progress(done, len(steps), "unpacking")
    for batch in _batches(steps):
        known = _do_batch(database, declared, batch, known, is_first=done == 0)
        done += len(batch)
        progress(done, len(steps), CHAPTERS.get(batch[-1].do, "pens and jobs"))
    with read(database) as session:
        return _counted(session, about["name"])


def story(now: datetime) -> list[Step]:
    """Return every step in the order in which it happened, the files' order on the same moment."""
    about = document_of("workshop.json")
    owner = about["people"][0]
    founded = moment_before(now, FOUNDED)
    steps = [
        *(Step(founded, owner, "make_drawer", row) for row in rows_of("drawers.csv")),
        *(Step(founded, owner, "make_part", row) for row in rows_of("parts.csv")),
        *_arrivals(now, owner),
        *(_event(now, owner, event) for event in about["events"]),
        *_stories_of_pens(now),
        *_past_jobs(now),
        *(
            Step(moment_before(now, "20 days"), owner, "note_supplier", each)
            for each in document_of("suppliers.json")
        ),
    ]
    return sorted(steps, key=lambda step: step.at)


def _arrivals(now: datetime, person: str) -> Iterator[Step]:
    for row in rows_of("lots.csv"):
        line = {**row, "made_on": made_before(now, row["made"])}
        yield Step(moment_before(now, row["arrived"]), person, "take_in", line)


def _stories_of_pens(now: datetime) -> Iterator[Step]:
    for pen in document_of("pens.json"):
        yield Step(moment_before(now, pen["ago"]), pen["by"], "bring_pen", pen)
        for event in pen["events"]:
            yield _event(now, pen["by"], {"called": pen["called"], **event})


def _past_jobs(now: datetime) -> Iterator[Step]:
    """Yield half a year of repairs that went as they should, for forecasts to rest on."""
    for row in rows_of("history.csv"):
        days, person = int(row["days_ago"]), row["by"]
        about = {"called": row["called"], "ago": ""}
        readings = {name: f"{row[name]} mm" for name in READINGS_OF_THE_PAST}
        pen = {"filling_system": "lever", "materials": [], "readings": readings, "note": ""}
        closing = {"outcomes": [row["outcome"]] if row["outcome"] else [], "note": ""}
        for later_days, do, line in (
            (0, "bring_pen", pen),
            (0, "open_job", {}),
            (0, "reserve_lot", {"lot": row["bag"], "quantity": 1}),
            (1, "use", {"reservation": 1}),
            (3, "close_job", closing),
        ):
            at = moment_before(now, f"{days - later_days} days")
            yield Step(at, person, do, about | line)


def _event(now: datetime, person: str, event: Mapping[str, Any]) -> Step:
    return Step(moment_before(now, event["ago"]), person, event["do"], event)


def _batches(steps: Sequence[Step]) -> Iterator[Sequence[Step]]:
    for start in range(0, len(steps), STEPS_PER_TRANSACTION):
        yield steps[start : start + STEPS_PER_TRANSACTION]


def _do_batch(
    database: Database,
    declared: Declarations,
    batch: Sequence[Step],
    known: Known,
    *,
    is_first: bool,
) -> Known:
    """Do these steps in one transaction; return what is known after them."""

    def do(session: Session) -> Known:
        if is_first:
            _refuse_used(session)
        after = dict(known)
        for step in batch:
            work = Work(session, step.at, Actor(ACTOR, step.person), declared)
            after.update(DOERS[step.do](work, step.line, after))
        return after

    return write(database, do)


def _refuse_used(session: Session) -> None:
    held = [
        f"{count} {name}"
        for name, count in (
            ("parts", _count(session, Part.id)),
            ("places", _count(session, Place.id)),
            ("pens", _count(session, Pen.id)),
        )
        if count
    ]
    if held:
        raise Conflict(
            f"this database already holds {', '.join(held)}; the demo goes into a fresh one only"
        )


def _counted(session: Session, name: str) -> Workshop:
    drawers = select(func.count(Place.id)).where(Place.type == PlaceType.DRAWER)
    return Workshop(
        name=name,
        drawers=session.scalar(drawers) or 0,
        parts=_count(session, Part.id),
        lots=_count(session, Lot.id),
        pens=_count(session, Pen.id),
        jobs=_count(session, Job.id),
        reservations=_count(session, Reservation.id),
        movements=_count(session, Movement.id),
    )


def _count(session: Session, column: InstrumentedAttribute[int]) -> int:
    return session.scalar(select(func.count(column))) or 0
