"""Lists of the workshop as CSV, one row to each thing, to be read by a person or a spreadsheet.

Lengths are millimetres, amounts have their decimals, moments are in UTC. Parts, and lots in hand,
come back in through an import under the headers that they have here.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Select, select
from sqlalchemy.orm import Session, lazyload

from sparewell.catalogue.tables import Part, column_of
from sparewell.database.numbers import DONOR_PREFIX, JOB_PREFIX, PEN_PREFIX, number_of
from sparewell.donors.tables import Component, Donor
from sparewell.imports.cells import neutralised
from sparewell.jobs.tables import Job, Need
from sparewell.ledger.tables import Movement
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.length import length_text
from sparewell.measure.money import money_text
from sparewell.outcomes.tables import Outcome
from sparewell.pens.tables import Pen, Reading
from sparewell.places.tables import Place, PlaceType
from sparewell.reservations.tables import Reservation

_ROWS_AT_ONCE = 500
Show = Callable[[Any], Any]


@dataclass(frozen=True)
class Listing:
    """A list: the rows of the database, and what each column shows of one."""

    statement: Select[Any]
    columns: Mapping[str, Show]


class _Figure(str):
    """A figure as text: it stands as it is, even where it begins with a minus."""

    __slots__ = ()


def _plain(name: str) -> Show:
    return lambda row: getattr(row, name)


def _columns(*names: str) -> dict[str, Show]:
    return {name: _plain(name) for name in names}


def _millimetres(nanometres: int | None) -> str | None:
    return None if nanometres is None else _Figure(length_text(nanometres).removesuffix(" mm"))


def _length(name: str) -> Show:
    return lambda row: _millimetres(getattr(row, column_of(name)))


def _measured(name: str) -> Show:
    def show(lot: Lot) -> str | None:
        return _millimetres(getattr(lot, column_of(name)) if name in lot.measured else None)

    return show


def _spread(name: str) -> Show:
    return lambda lot: _millimetres(lot.measured_how.get(name, {}).get("spread_nanometres"))


def _instrument(name: str) -> Show:
    return lambda lot: lot.measured_how.get(name, {}).get("instrument")


def _money(name: str) -> Show:
    def show(row: Any) -> str | None:
        value = getattr(row, name)
        if value is None:
            return None
        return _Figure(money_text(abs(value)) if value >= 0 else f"-{money_text(-value)}")

    return show


def _number(prefix: str, name: str = "id") -> Show:
    def show(row: Any) -> str | None:
        value = getattr(row, name)
        return number_of(prefix, value) if value else None

    return show


def _dimensions(show: Callable[[str], Show], before: str = "") -> dict[str, Show]:
    return {f"{before}{name.replace('_', ' ')} (mm)": show(name) for name in DIMENSIONS}


def _how_measured() -> dict[str, Show]:
    instruments = {
        f"instrument for {name.replace('_', ' ')}": _instrument(name) for name in DIMENSIONS
    }
    return _dimensions(_spread, "spread of ") | instruments


def _listings() -> dict[str, Listing]:
    return {
        "parts": Listing(
            select(Part).order_by(Part.id),
            {
                **_columns("number", "kind", "name", "material", "counted_by"),
                **_dimensions(_length),
                **_columns("note", "created_at"),
            },
        ),
        "drawers": Listing(
            select(Place).where(Place.type == PlaceType.DRAWER).order_by(Place.id),
            _columns("code", "note", "created_at"),
        ),
        "lots": Listing(
            select(Lot).order_by(Lot.id),
            {
                "lot": _plain("id"),
                "part": lambda lot: lot.part.number if lot.part else None,
                "kind of part": _plain("kind"),
                "drawer": lambda lot: lot.place.code,
                "quantity": _plain("in_hand"),
                "promised": _plain("promised"),
                **_columns("label", "condition", "material"),
                "material confidence": _plain("material_confidence"),
                "made on": _plain("made_on"),
                "arrived on": lambda lot: lot.arrived_at.astimezone(UTC).date(),
                "cost": _money("cost_minor"),
                **_dimensions(_measured, "measured "),
                **_how_measured(),
                "donor": _number(DONOR_PREFIX, "donor_id"),
                "note": _plain("note"),
            },
        ),
        "movements": Listing(
            select(Movement).order_by(Movement.id),
            {
                "id": _plain("id"),
                "group": _plain("act_id"),
                "undoes": lambda line: line.act.undoes_act_id,
                "at": lambda line: line.act.at,
                "lot": _plain("lot_id"),
                **_columns("verb", "change", "pieces"),
                "cost change": _money("cost_change_minor"),
                "place": lambda line: line.place.code,
                "from place": lambda line: line.from_place.code if line.from_place else None,
                "reservation": _plain("reservation_id"),
                "job": _number(JOB_PREFIX, "job_id"),
                "actor": lambda line: line.act.actor,
                "person": lambda line: line.act.person,
                "note": lambda line: line.act.note,
            },
        ),
        "reservations": Listing(
            select(Reservation).order_by(Reservation.id),
            {
                "id": _plain("id"),
                "lot": _plain("lot_id"),
                "job": _number(JOB_PREFIX, "job_id"),
                "need": _plain("need_id"),
                "goes with": _plain("goes_with_id"),
                **_columns("quantity", "state", "promised", "in_tray", "used", "released"),
                **_columns("spoiled", "lapsed", "verdict", "why", "note", "actor", "person"),
                **_columns("created_at", "expires_at"),
            },
        ),
        **_of_pens(),
        **_of_jobs(),
    }


def _of_pens() -> dict[str, Listing]:
    return {
        "donors": Listing(
            select(Donor).options(lazyload("*")).order_by(Donor.id),
            {
                "number": _number(DONOR_PREFIX),
                **_columns("called", "materials"),
                "pen": _number(PEN_PREFIX, "pen_id"),
                **_columns("note", "created_at"),
            },
        ),
        "components": Listing(
            select(Component).order_by(Component.id),
            {
                "id": _plain("id"),
                "donor": _number(DONOR_PREFIX, "donor_id"),
                "lot": _plain("lot_id"),
                **_columns("kind", "state"),
                "part of": _plain("part_of_id"),
                "note": _plain("note"),
            },
        ),
        "pens": Listing(
            select(Pen).options(lazyload("*")).order_by(Pen.id),
            {
                "number": _number(PEN_PREFIX),
                **_columns("called", "filling_system", "materials", "owner", "accessories"),
                **_columns("condition", "model_note"),
                "cost": _money("cost_minor"),
                **_columns("note", "created_at", "retired_at"),
            },
        ),
        "readings": Listing(
            select(Reading).order_by(Reading.id),
            {
                "id": _plain("id"),
                "pen": _number(PEN_PREFIX, "pen_id"),
                "name": _plain("name"),
                "value (mm)": lambda row: _millimetres(row.value_nanometres),
                "value": _plain("value_text"),
                **_columns("entered", "instrument"),
                "spread (mm)": lambda row: _millimetres(row.spread_nanometres),
                "counts": lambda row: "no" if row.correction else "yes",
                **_columns("actor", "person", "at"),
            },
        ),
    }


def _of_jobs() -> dict[str, Listing]:
    return {
        "jobs": Listing(
            select(Job).options(lazyload("*")).order_by(Job.id),
            {
                "number": _number(JOB_PREFIX),
                "pen": _number(PEN_PREFIX, "pen_id"),
                **_columns("state", "wishes", "promised_on"),
                "estimate": _money("estimate_minor"),
                "ceiling": _money("ceiling_minor"),
                "postage": _money("postage_minor"),
                **_columns("glue", "ink", "time_minutes", "note", "created_at", "ended_at"),
            },
        ),
        "needs": Listing(
            select(Need).order_by(Need.id),
            {
                "id": _plain("id"),
                "job": _number(JOB_PREFIX, "job_id"),
                **_columns("kind", "quantity", "at_most", "calculator", "optional", "seals_where"),
                **_columns("decided", "dropped_at", "dropped_why", "note"),
            },
        ),
        "outcomes": Listing(
            select(Outcome).order_by(Outcome.id),
            {
                "id": _plain("id"),
                "reservation": _plain("reservation_id"),
                **_columns("outcome", "size", "verdict", "glue", "ink", "note"),
                **_columns("actor", "person", "at"),
            },
        ),
    }


LISTINGS: Mapping[str, Listing] = _listings()


def lines_of(connection: Connection, listing: Listing) -> Iterator[str]:
    """Give a list as CSV, some rows at a time; the first line names the columns."""
    buffer = io.StringIO()
    writer = csv.writer(buffer)

    def written() -> str:
        text = buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()
        return text

    # A byte order mark tells spreadsheets that it is UTF-8.
    buffer.write("\N{ZERO WIDTH NO-BREAK SPACE}")
    writer.writerow(listing.columns)
    yield written()
    with Session(connection) as session:
        statement = listing.statement.execution_options(yield_per=_ROWS_AT_ONCE)
        for some in session.scalars(statement).partitions():
            for row in some:
                writer.writerow([_cell(show(row)) for show in listing.columns.values()])
            yield written()


def _cell(value: Any) -> str | int:
    match value:
        case None | _Figure():
            return value or ""
        case bool():
            return "yes" if value else "no"
        case int():
            return value
        case datetime():
            return value.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
        case list():
            return neutralised(", ".join(map(str, value)))
        case _:
            return neutralised(str(value))
