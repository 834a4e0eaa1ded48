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

from sparewell.catalogue.schemas import PartDescription
from sparewell.catalogue.tables import Part, column_of
from sparewell.database.numbers import DONOR_PREFIX, JOB_PREFIX, PEN_PREFIX, number_of
from sparewell.donors.schemas import ComponentDescription, DonorDescription
from sparewell.donors.tables import Component, Donor
from sparewell.edge.description import Described, Description, read_path
from sparewell.edge.fields import DimensionMap, Money, NumberOf
from sparewell.edge.measured import HowMeasuredMap
from sparewell.imports.cells import neutralised
from sparewell.jobs.schemas import JobDescription
from sparewell.jobs.tables import Job, Need
from sparewell.ledger.schemas import MoneyChange, MovementDescription
from sparewell.ledger.tables import Movement
from sparewell.lots.schemas import LotDescription
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.length import length_text
from sparewell.measure.money import money_text
from sparewell.outcomes.tables import Outcome
from sparewell.pens.schemas import PenDescription
from sparewell.pens.tables import Pen, Reading
from sparewell.places.schemas import DrawerDescription
from sparewell.places.tables import Place, PlaceType
from sparewell.purchases.schemas import PenPurchaseDescription
from sparewell.purchases.tables import PenPurchase
from sparewell.reservations.schemas import ReservationDescription
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


def _listed(description: type[Description], **special: Show) -> dict[str, Show]:
    """Return the columns that a thing's description heads; `special` are written otherwise."""
    columns: dict[str, Show] = {}
    for name, each in description.described.items():
        if not each.export:
            continue
        if name in special:
            columns[each.export] = special[name]
        else:
            columns |= _written(name, each)
    return columns


def _written(name: str, each: Described) -> dict[str, Show]:
    match each.in_shown:
        case HowMeasuredMap():
            return _how_measured()
        case DimensionMap() if name == "measured":
            return _dimensions(_measured, "measured ")
        case DimensionMap():
            return _dimensions(_length)
        case NumberOf() as number:
            return {each.export: _number(number.prefix, each.path)}
        case Money() | MoneyChange():
            return {each.export: _money(each.path)}
        case _:
            path = each.path or name
            return {each.export: lambda row: read_path(row, path)}


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
            _listed(PartDescription),
        ),
        "drawers": Listing(
            select(Place).where(Place.type == PlaceType.DRAWER).order_by(Place.id),
            _listed(DrawerDescription),
        ),
        "lots": Listing(
            select(Lot).order_by(Lot.id),
            _listed(LotDescription, arrived_at=lambda lot: lot.arrived_at.astimezone(UTC).date()),
        ),
        "movements": Listing(
            select(Movement).order_by(Movement.id),
            _listed(MovementDescription),
        ),
        "reservations": Listing(
            select(Reservation).order_by(Reservation.id),
            _listed(ReservationDescription),
        ),
        **_of_pens(),
        **_of_jobs(),
    }


def _of_pens() -> dict[str, Listing]:
    return {
        "donors": Listing(
            select(Donor).options(lazyload("*")).order_by(Donor.id),
            _listed(DonorDescription),
        ),
        "components": Listing(
            select(Component).order_by(Component.id),
            {
                "id": _plain("id"),
                "donor": _number(DONOR_PREFIX, "donor_id"),
                "lot": _plain("lot_id"),
                **_listed(ComponentDescription),
            },
        ),
        "pens": Listing(
            select(Pen).options(lazyload("*")).order_by(Pen.id),
            _listed(PenDescription),
        ),
        "purchases": Listing(
            select(PenPurchase).order_by(PenPurchase.id),
            _listed(PenPurchaseDescription),
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
            _listed(JobDescription),
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
                **_columns("outcome", "happened_on", "size", "verdict", "glue", "ink", "note"),
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
