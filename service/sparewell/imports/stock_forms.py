"""What rows of parts and of lots become."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any

from sqlalchemy import Table, insert, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from sparewell.catalogue.operations import NewPart, described_part
from sparewell.catalogue.schemas import NewPartSchema
from sparewell.catalogue.tables import Part
from sparewell.database import faults
from sparewell.errors import Conflict, Impossible
from sparewell.handling.arrivals import CHUNK_ROWS, IN_HAND, Arrival, arrive_all, values_of
from sparewell.imports.cells import ACCEPTED_DAYS
from sparewell.imports.forms import MOST_DOUBTS, ImportForm, RowRefused, Said, divided
from sparewell.imports.targets import LOTS, PARTS
from sparewell.lots.ageing import fit_by
from sparewell.lots.doubts import doubts_of
from sparewell.lots.operations import NewLot, described_lot
from sparewell.lots.schemas import NewLotSchema
from sparewell.lots.tables import Lot
from sparewell.measure.money import (
    LARGEST_MAJOR,
    MINOR_PER_MAJOR,
    MoneyError,
    money_text,
    parse_money,
)
from sparewell.places.operations import create_drawer, refuse_number
from sparewell.places.tables import Place, PlaceType
from sparewell.settings.operations import present_values
from sparewell.work import Work

_NAMES_AT_ONCE = 500
_MOST_NEAR = 3
_PART = Part.__table__


def found_by(
    session: Session, column: InstrumentedAttribute[str], names: Collection[str]
) -> dict[str, Any]:
    """Return the rows that bear these names, by name."""
    wanted = sorted(names)
    found: dict[str, Any] = {}
    for start in range(0, len(wanted), _NAMES_AT_ONCE):
        some = wanted[start : start + _NAMES_AT_ONCE]
        statement = select(column.class_).where(column.in_(some))
        found |= {getattr(row, column.key): row for row in session.scalars(statement)}
    return found


class Parts(ImportForm):
    """Rows of parts: entries of the catalogue."""

    schema = NewPartSchema

    def look_up(self, rows: Sequence[Said]) -> None:
        """Find the parts that are there already."""
        numbers = {str(row.values.get("number", "")) for row in rows}
        self._present = set(found_by(self.work.session, Part.number, numbers))
        self._seen: dict[str, int] = {}

    def faults(self, row: Said, loaded: Mapping[str, Any]) -> Iterator[RowRefused]:
        """Refuse a number that is taken, here or in a row above."""
        number = loaded.get("number")
        if number in self._seen:
            yield RowRefused(
                "number",
                f"{number!r} stands in row {self._seen[number]} already",
                "a number of its own for each part; leave one of the two rows out",
            )
        elif number in self._present:
            yield RowRefused(
                "number",
                f"there is already a part {number!r}",
                "a number that is not taken; leave out what is in the catalogue",
            )
        elif number is not None:
            self._seen[number] = row.number

    def check(self, row: Said, loaded: dict[str, Any]) -> Part:  # noqa: ARG002 - there is no more
        """Return the part. Raises :class:`Impossible`."""
        return described_part(self.work, NewPart.said(loaded))

    def write(
        self,
        work: Work,
        name: str,  # noqa: ARG002 - no piece moves
        items: Sequence[Part],
    ) -> tuple[dict[str, Any], int | None]:
        """Write the parts."""
        taken = found_by(work.session, Part.number, [part.number for part in items])
        if taken:
            raise Conflict(f"there is a part {min(taken)!r} now; check the file again")
        assert isinstance(_PART, Table)  # noqa: S101 - it is mapped to one table
        names = [column.name for column in _PART.columns if column.name != "id"]
        connection = work.session.connection()
        for start in range(0, len(items), CHUNK_ROWS):
            chunk = items[start : start + CHUNK_ROWS]
            rows = [
                {each: getattr(part, each) for each in names} | {"created_at": work.now}
                for part in chunk
            ]
            connection.execute(insert(_PART), rows)
            faults.reach(faults.AFTER_ROWS_ARRIVED)
        return {"parts": len(items)}, None


def noon(day: date, now: datetime) -> datetime:
    """Return the moment of something of which only the day is known."""
    return min(datetime.combine(day, time(12), UTC), now)


@dataclass(frozen=True, slots=True)
class ReadyLot:
    """A lot that was checked: its part's number, its drawer's code, and everything else."""

    part: str
    drawer: str
    values: tuple[Any, ...]


class Lots(ImportForm):
    """Rows of lots: pieces that arrive."""

    schema = NewLotSchema

    def look_up(self, rows: Sequence[Said]) -> None:
        """Find the parts and the places that the rows name."""
        session = self.work.session
        parts = {str(row.values.get("part", "")) for row in rows}
        places = {str(row.values.get("drawer", "")) for row in rows}
        self._parts: dict[str, Part] = found_by(session, Part.number, parts)
        self._drawers = {
            code: place.type for code, place in found_by(session, Place.code, places).items()
        }
        self._new_drawers: dict[str, None] = {}
        self._near: dict[str, str] = {}
        self._doubts: list[str] = []
        self._settings = present_values(session, self.work.declared)

    def apart(self, values: dict[str, Any]) -> dict[str, Any]:
        """Take out the day of arrival and one piece's price; put spreads to what they are of."""
        self._join_spreads(values)
        return {name: values.pop(name, None) for name in ("arrived_on", "cost_each")}

    @staticmethod
    def _join_spreads(values: dict[str, Any]) -> None:
        hows = {name: values.pop(name, {}) for name in ("spread", "instrument")}
        for name in {name for by_name in hows.values() for name in by_name}:
            said = {how: by_name[name] for how, by_name in hows.items() if name in by_name}
            measured = values.setdefault("measured", {})
            if name in measured:
                said["value"] = measured[name]
            measured[name] = said

    def faults(self, row: Said, loaded: Mapping[str, Any]) -> Iterator[RowRefused]:
        """Refuse parts and drawers that there are not, and days and prices that cannot be."""
        if "part" in loaded and loaded["part"] not in self._parts:
            yield RowRefused("part", *self._no_part(loaded["part"]))
        for look in (self._refused_drawer, self._refused_day, self._refused_price):
            refused = look(row.values, loaded)
            if refused is not None:
                yield refused

    def check(self, row: Said, loaded: dict[str, Any]) -> ReadyLot:
        """Return the lot. Raises :class:`Impossible`."""
        each, day = row.values["cost_each"], row.values["arrived_on"]
        if each is not None:
            loaded["cost"] = parse_money(each) * loaded["quantity"]
        part = self._parts[loaded["part"]]
        lot = described_lot(self.work, part, NewLot.said(loaded))
        if day is not None:
            lot.arrived_at = noon(date.fromisoformat(day), self.work.now)
        self._doubt(row.number, lot)
        return ReadyLot(part.number, loaded["drawer"], values_of(lot))

    def _doubt(self, row: int, lot: Lot) -> None:
        """Keep what the API would warn of, by the row that it is about."""
        if len(self._doubts) >= MOST_DOUBTS:
            return
        declared = self.work.declared
        age = fit_by(lot, declared, self._settings)
        doubts = doubts_of(declared.kinds.get(lot.kind), lot, age)
        self._doubts += [f"row {row}: {doubt}" for doubt in doubts]

    def notices(self) -> list[str]:
        """Name the drawers that would be made."""
        made = ", ".join(self._new_drawers)
        return [*([f"drawers to be made: {made}"[:2000]] if made else []), *self._doubts]

    def _no_part(self, number: str) -> tuple[str, str]:
        if number not in self._near:
            known = list(self.work.session.scalars(select(Part.number).limit(30_000)))
            folded = {each.casefold(): each for each in known}
            near = folded.get(number.casefold())
            close = [near] if near else difflib.get_close_matches(number, known[:3000], _MOST_NEAR)
            self._near[number] = f"; near are {', '.join(close)}" if close else ""
        accepted = f"the number of a part that is there{self._near[number]}; bring parts in first"
        return f"there is no part {number!r}", accepted

    def _refused_drawer(
        self,
        _besides: Mapping[str, Any],
        loaded: Mapping[str, Any],
    ) -> RowRefused | None:
        code = loaded.get("drawer")
        if code is None or code in self._new_drawers or self._drawers.get(code) == PlaceType.DRAWER:
            return None
        if code in self._drawers:
            return RowRefused("drawer", f"{code!r} is no drawer", "the code of a drawer")
        if not self.options.create_drawers:
            return RowRefused(
                "drawer",
                f"there is no drawer {code!r}",
                "the code of a drawer that is there, or the option create_drawers",
            )
        try:
            refuse_number(code)
        except Impossible as refused:
            return RowRefused("drawer", refused.detail, "another code")
        self._new_drawers[code] = None
        return None

    def _refused_day(
        self,
        besides: Mapping[str, Any],
        _loaded: Mapping[str, Any],
    ) -> RowRefused | None:
        day = besides["arrived_on"]
        if day is None or date.fromisoformat(day) <= self.work.now.date():
            return None
        return RowRefused("arrived_on", f"{day} is still to come", ACCEPTED_DAYS)

    @staticmethod
    def _refused_price(
        besides: Mapping[str, Any],
        loaded: Mapping[str, Any],
    ) -> RowRefused | None:
        each = besides["cost_each"]
        if each is None:
            return None
        if loaded.get("cost") is not None:
            return RowRefused("cost_each", "the whole cost stands in this row, too", "one of both")
        try:
            cost = parse_money(each) * loaded.get("quantity", 1)
        except MoneyError as error:
            return RowRefused("cost_each", *divided(str(error)))
        if cost > LARGEST_MAJOR * MINOR_PER_MAJOR:
            detail = f"together that is {money_text(cost)}"
            return RowRefused("cost_each", detail, f"at most {LARGEST_MAJOR} together")
        return None

    def write(
        self, work: Work, name: str, items: Sequence[ReadyLot]
    ) -> tuple[dict[str, Any], int | None]:
        """Write the drawers that are lacking, the lots, and the group in which they arrive."""
        part_ids = self._locked_parts(work, {item.part for item in items})
        codes = {item.drawer for item in items}
        places = found_by(work.session, Place.code, codes)
        made = sorted(codes - places.keys())
        if made and not self.options.create_drawers:
            raise Conflict(f"there is no drawer {made[0]!r} any more; check the file again")
        places |= {code: create_drawer(work, code) for code in made}
        wrong = [code for code, place in places.items() if place.type != PlaceType.DRAWER]
        if wrong:
            raise Conflict(f"{wrong[0]!r} is no drawer; check the file again")
        place_ids = {code: place.id for code, place in places.items()}
        arrivals = [
            Arrival(part_ids[item.part], place_ids[item.drawer], item.values) for item in items
        ]
        group = arrive_all(work, name, arrivals)
        pieces = sum(item.values[IN_HAND] for item in items)
        return {"lots": len(items), "pieces": pieces, "drawers": made}, group

    def _locked_parts(self, work: Work, numbers: Collection[str]) -> dict[str, int]:
        """Return the parts' ids, and keep the parts as they were when the lots were described."""
        wanted, ids = sorted(numbers), {}
        for start in range(0, len(wanted), _NAMES_AT_ONCE):
            statement = (
                select(Part)
                .where(Part.number.in_(wanted[start : start + _NAMES_AT_ONCE]))
                .order_by(Part.id)
                .with_for_update(read=True)
            )
            for part in work.session.scalars(statement):
                before = self._parts[part.number]
                if (part.dimensions, part.material) != (before.dimensions, before.material):
                    raise Conflict(f"part {part.number!r} was changed; check the file again")
                ids[part.number] = part.id
        if len(ids) < len(wanted):
            raise Conflict("a part is not there any more; check the file again")
        return ids


FORMS: Mapping[str, type[ImportForm]] = {PARTS: Parts, LOTS: Lots}
