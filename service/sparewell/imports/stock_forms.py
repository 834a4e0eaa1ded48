"""What rows of parts and of lots become."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time
from typing import Any

from sqlalchemy import Table, insert, select

from sparewell.catalogue.operations import NewPart, described_part
from sparewell.catalogue.schemas import NewPartSchema
from sparewell.catalogue.tables import Part
from sparewell.database import faults
from sparewell.errors import Conflict, Impossible
from sparewell.handling.arrivals import CHUNK_ROWS, Arrival, arrive_all, columns_of
from sparewell.imports.cells import ACCEPTED_DAYS
from sparewell.imports.forms import MOST_DOUBTS, ImportForm, RowRefused, Said, divided
from sparewell.imports.named import NAMES_AT_ONCE, found_by, look_up
from sparewell.imports.ready import Packing, head_of, rows_of
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

_MOST_NEAR = 3
_PART = Part.__table__


class Parts(ImportForm):
    """Rows of parts: entries of the catalogue."""

    schema = NewPartSchema

    def look_up(self, rows: Iterable[Said]) -> None:
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
    ) -> tuple[dict[str, Any], int | None]:
        """Write the parts."""
        taken = found_by(work.session, Part.number, [part.number for part in self.items])
        if taken:
            raise Conflict(f"there is a part {min(taken)!r} now; check the file again")
        assert isinstance(_PART, Table)  # noqa: S101 - it is mapped to one table
        names = [column.name for column in _PART.columns if column.name != "id"]
        connection = work.session.connection()
        for start in range(0, len(self.items), CHUNK_ROWS):
            chunk = self.items[start : start + CHUNK_ROWS]
            rows = [
                {each: getattr(part, each) for each in names} | {"created_at": work.now}
                for part in chunk
            ]
            connection.execute(insert(_PART), rows)
            faults.reach(faults.AFTER_ROWS_ARRIVED)
        return {"parts": len(self.items)}, None


def noon(day: date, now: datetime) -> datetime:
    """Return the moment of something of which only the day is known."""
    return min(datetime.combine(day, time(12), UTC), now)


class Lots(ImportForm):
    """Rows of lots: pieces that arrive."""

    schema = NewLotSchema

    def look_up(self, rows: Iterable[Said]) -> None:
        """Find the parts and the places that the rows name."""
        self._numbers: set[str] = set()
        self._codes: set[str] = set()
        for row in rows:
            self._numbers.add(str(row.values.get("part", "")))
            self._codes.add(str(row.values.get("drawer", "")))
        self._named = look_up(self.work, self._numbers, self._codes)
        self._settings = present_values(self.work.session, self.work.declared)
        self._new_drawers: dict[str, None] = {}
        self._near: dict[str, str] = {}
        self._doubts: list[str] = []
        self._packing = Packing()
        self._drawers: set[str] = set()
        self._lots = self._pieces = 0
        self._ready: bytes | None = None

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
        if "part" in loaded and loaded["part"] not in self._named.parts:
            yield RowRefused("part", *self._no_part(loaded["part"]))
        for look in (self._refused_drawer, self._refused_day, self._refused_price):
            refused = look(row.values, loaded)
            if refused is not None:
                yield refused

    def check(self, row: Said, loaded: dict[str, Any]) -> dict[str, Any]:
        """Return the lot as it is kept. Raises :class:`Impossible`."""
        each, day = row.values["cost_each"], row.values["arrived_on"]
        if each is not None:
            loaded["cost"] = parse_money(each) * loaded["quantity"]
        part = self._named.parts[loaded["part"]]
        lot = described_lot(self.work, part, NewLot.said(loaded))
        if day is not None:
            lot.arrived_at = noon(date.fromisoformat(day), self.work.now)
        self._doubt(row.number, lot)
        columns = columns_of(lot)
        if lot.made_from is not None:
            columns["made_from"] = lot.made_from.isoformat()
        # Pieces of no known day arrive when they are written, which may be another day than this.
        del columns["arrived_at"]
        return {"part": part.number, "drawer": loaded["drawer"], "day": day, "columns": columns}

    def keep(self, item: dict[str, Any]) -> None:
        """Pack the lot: there may be very many."""
        self._packing.add(item)
        self._drawers.add(item["drawer"])
        self._lots += 1
        self._pieces += item["columns"]["in_hand"]

    def ready(self) -> bytes:
        """Return the lots, and what they were checked against."""
        if self._ready is None:
            head = {
                "checked_at": self.work.now.isoformat(),
                "numbers": sorted(self._numbers),
                "codes": sorted(self._codes),
                "digest": self._named.digest,
                "drawers": sorted(self._drawers),
                "made": {"lots": self._lots, "pieces": self._pieces},
            }
            self._ready = self._packing.close(head)
        return self._ready

    def take_up(self, ready: bytes) -> bool:
        """Take up lots that were checked, and tell whether a check would still find the same."""
        head = head_of(ready)
        self._ready = ready
        self._named = look_up(self.work, head["numbers"], head["codes"])
        is_later = datetime.fromisoformat(head["checked_at"]) <= self.work.now
        return is_later and self._named.digest == head["digest"]

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
        if code is None or code in self._new_drawers:
            return None
        found = self._named.places.get(code)
        if found == PlaceType.DRAWER:
            return None
        if found is not None:
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

    def write(self, work: Work, name: str) -> tuple[dict[str, Any], int | None]:
        """Write the drawers that are lacking, the lots, and the group in which they arrive."""
        part_ids = self._locked_parts(work)
        head = head_of(self.ready())
        codes = set(head["drawers"])
        places = found_by(work.session, Place.code, codes)
        made = sorted(codes - places.keys())
        if made and not self.options.create_drawers:
            raise Conflict(f"there is no drawer {made[0]!r} any more; check the file again")
        places |= {code: create_drawer(work, code) for code in made}
        wrong = [code for code, place in places.items() if place.type != PlaceType.DRAWER]
        if wrong:
            raise Conflict(f"{wrong[0]!r} is no drawer; check the file again")
        place_ids = {code: place.id for code, place in places.items()}
        arrivals = (
            Arrival(part_ids[lot["part"]], place_ids[lot["drawer"]], _columns(lot, work.now))
            for lot in rows_of(self.ready())
        )
        group = arrive_all(work, name, arrivals)
        return {**head["made"], "drawers": made}, group

    def _locked_parts(self, work: Work) -> dict[str, int]:
        """Return the parts' ids, and keep the parts as they were when the lots were described."""
        wanted, ids = sorted(self._named.parts), {}
        for start in range(0, len(wanted), NAMES_AT_ONCE):
            statement = (
                select(Part)
                .where(Part.number.in_(wanted[start : start + NAMES_AT_ONCE]))
                .order_by(Part.id)
                .with_for_update(read=True)
            )
            for part in work.session.scalars(statement):
                before = self._named.parts[part.number]
                if (part.dimensions, part.material) != (before.dimensions, before.material):
                    raise Conflict(f"part {part.number!r} was changed; check the file again")
                ids[part.number] = part.id
        if len(ids) < len(wanted):
            raise Conflict("a part is not there any more; check the file again")
        return ids


def _columns(lot: Mapping[str, Any], now: datetime) -> dict[str, Any]:
    """Return the columns of a packed lot that arrives now, or on the day that its row says."""
    columns: dict[str, Any] = lot["columns"]
    if "made_from" in columns:
        columns["made_from"] = date.fromisoformat(columns["made_from"])
    day = lot["day"]
    arrived_at = now if day is None else noon(date.fromisoformat(day), now)
    return {**columns, "arrived_at": arrived_at}


FORMS: Mapping[str, type[ImportForm]] = {PARTS: Parts, LOTS: Lots}
