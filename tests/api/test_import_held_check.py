"""When a check of a file still holds as it is applied, and when the file is checked once more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import marshmallow as ma
import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Connection, select, text, update

from sparewell.database.engine import Database
from sparewell.edge.context import EXTENSION, Services
from sparewell.imports import operations
from sparewell.imports.past_jobs import PastJobSchema
from sparewell.imports.reading import MOST_REMEMBERED, Remembered, RowReader
from sparewell.imports.tables import Import
from sparewell.ledger.tables import Movement
from sparewell.lots.schemas import NewLotSchema
from sparewell.lots.tables import Lot
from support.api import Api

PARTS = "number,kind,outside diameter,material\nP1,sac,6 mm,latex\nP2,o_ring,,\n"
LOTS = (
    "part;drawer;pieces;outside diameter;made on;bought;price each;label;note\n"
    "P1;A3;7;6.1 mm;2026-03;3.4.2026;1,25;15;the first\n"
    "P1;A3;2;;;;;;of today\n"
    "P2;A3;9;7 mm;2025;;2;;a ring\n"
)
Change = Callable[[Api, Flask, Any], None]


@pytest.fixture
def sent(api: Api) -> str:
    """The address of a file of lots that was found clean."""
    parts = api.call("POST", "/v1/imports?of=parts&name=parts", raw=PARTS.encode())
    assert api.post(f"/v1/imports/{parts.body['id']}/apply").status == 200
    assert api.post("/v1/drawers", {"code": "A3"}).status == 201
    return send(api)


def send(api: Api, **options: Any) -> str:
    """Send the lots, and return where the file is."""
    answer = api.call("POST", "/v1/imports?of=lots&name=lots", raw=LOTS.encode())
    assert answer.status == 201, answer.text
    path = f"/v1/imports/{answer.body['id']}"
    found = api.post(f"{path}/check", options)
    assert (found.status, found.body["state"]) == (200, "checked"), found.text
    return path


@pytest.fixture
def checks(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Note of which files a check is made."""
    made: list[str] = []
    honest = operations.check

    def noted(work: Any, of: str, *more: Any) -> Any:
        made.append(of)
        return honest(work, of, *more)

    monkeypatch.setattr(operations, "check", noted)
    return made


def kept(database: Database) -> tuple[list[Any], list[Any]]:
    """Return what lots and movements say, without their ids."""
    with database.engine.connect() as connection:
        return rows(connection, Lot, {"id"}), rows(connection, Movement, {"id", "lot_id", "act_id"})


def rows(connection: Connection, table: Any, but: set[str]) -> list[Any]:
    """Return the rows of a table, as they were written."""
    columns = [each for each in table.__table__.columns if each.name not in but]
    return [tuple(row) for row in connection.execute(select(*columns).order_by(table.id))]


def test_what_was_checked_is_not_checked_again(
    api: Api, sent: str, checks: list[str], database: Database
) -> None:
    """A file of which nothing has changed is applied as it was found, and only once."""
    applied = api.post(f"{sent}/apply")
    assert (applied.status, applied.body["created"]["lots"]) == (200, 3)
    assert checks == []
    assert api.post(f"{sent}/apply").status == 409
    with database.engine.connect() as connection:
        ended = connection.execute(select(Import.ready).where(Import.of == "lots"))
        assert ended.scalars().all() == [None]


@pytest.mark.differs
def test_lots_are_the_same_whether_checked_once_or_twice(
    api: Api, sent: str, checks: list[str], database: Database
) -> None:
    """What was kept of a check becomes the same lots and the same ledger as another check does."""
    assert api.post(f"{sent}/apply").status == 200
    again = send(api, again=True)
    with database.writer.begin() as connection:
        connection.execute(update(Import).values(ready=None))
    del checks[:]
    assert api.post(f"{again}/apply").status == 200
    assert checks == ["lots"]
    for lines in kept(database):
        assert len(lines) == 6
        assert lines[:3] == lines[3:]


def test_what_it_became_is_what_the_file_says(api: Api, sent: str) -> None:
    """Sizes, days, prices and texts come through being kept as they stand in the file."""
    assert api.post(f"{sent}/apply").status == 200
    first, second, third = api.get("/v1/lots").body["lots"]
    assert first["measured"] == {"outside_diameter": 6.1}
    assert (first["made_on"], first["arrived_at"]) == ("2026-03", "2026-04-03T12:00:00.000Z")
    assert (first["cost"], first["label"], first["note"]) == ("8.75", "15", "the first")
    assert second["dimensions"] == {"outside_diameter": 6.0}
    assert (third["kind"], third["made_on"], third["cost"]) == ("o_ring", "2025", "18.00")


def change_a_size(api: Api, *_others: Any) -> None:
    """Give the part of two lots another nominal size."""
    assert api.patch("/v1/parts/P1", {"dimensions": {"outside_diameter": "6.2 mm"}}).status == 200


def change_a_material(api: Api, *_others: Any) -> None:
    """Say that the part is of another material."""
    assert api.patch("/v1/parts/P1", {"material": "silicone"}).status == 200


def change_a_setting(api: Api, *_others: Any) -> None:
    """Change a number of the trade."""
    said = {"value": "0.8 mm", "why": "measured"}
    assert api.patch("/v1/settings/sac.end_gap", said).status == 200


def set_the_clock_back(_api: Api, _app: Flask, clock: Any) -> None:
    """Let it be earlier than it was when the file was checked."""
    clock.now -= timedelta(seconds=1)


def change_the_program(_api: Api, app: Flask, _clock: Any) -> None:
    """Serve with another version of the plugins."""
    present: Services = app.extensions[EXTENSION]
    newer = tuple(replace(each, version="9.9.9") for each in present.declared.plugins)
    declared = replace(present.declared, plugins=newer)
    app.extensions[EXTENSION] = replace(present, declared=declared)


@pytest.mark.parametrize(
    "change",
    [
        change_a_size,
        change_a_material,
        change_a_setting,
        set_the_clock_back,
        change_the_program,
    ],
)
def test_a_file_is_checked_again_where_its_check_may_not_hold(
    api: Api, app: Flask, clock: Any, sent: str, checks: list[str], change: Change
) -> None:
    """With another part, setting, clock or program a file is checked again, and counts as then."""
    change(api, app, clock)
    assert api.post(f"{sent}/apply").status == 200
    assert checks == ["lots"]
    lot = api.get("/v1/lots").body["lots"][1]
    part = api.get("/v1/parts/P1").body
    assert (lot["dimensions"], lot["material"]) == (part["dimensions"], part["material"])


@pytest.mark.parametrize(
    ("statement", "sentence"),
    [
        ("UPDATE place SET code = 'A9' WHERE code = 'A3'", "there is no drawer 'A3'"),
        ("UPDATE place SET type = 'tray' WHERE code = 'A3'", "'A3' is no drawer"),
        ("DELETE FROM place WHERE code = 'A3'", "there is no drawer 'A3'"),
        ("UPDATE part SET number = 'P9' WHERE number = 'P1'", "there is no part 'P1'"),
    ],
)
def test_what_is_named_is_gone(
    api: Api, sent: str, database: Database, statement: str, sentence: str
) -> None:
    """A drawer or a part that was there when the file was checked, and is not, stops it all."""
    with database.writer.begin() as connection:
        connection.execute(text(statement))
    refused = api.post(f"{sent}/apply")
    assert refused.status == 409
    assert "was clean when it was checked and is not any more" in refused.body["detail"]
    assert refused.body["errors"][0]["detail"] == sentence
    assert kept(database) == ([], [])


def test_the_same_file_was_applied_meanwhile(api: Api, sent: str) -> None:
    """Of two that were found clean the second is refused, unless it was meant to come again."""
    other, meant = send(api), send(api, again=True)
    assert api.post(f"{other}/apply").status == 200
    refused = api.post(f"{sent}/apply")
    assert refused.status == 409
    assert "this very file was applied as import" in refused.body["errors"][0]["detail"]
    assert api.post(f"{meant}/apply").status == 200


def test_another_file_that_was_applied_meanwhile_is_no_matter(
    api: Api, sent: str, checks: list[str]
) -> None:
    """Lots that came in between change nothing of what this file says."""
    other = LOTS.replace("a ring", "another ring").encode()
    between = api.call("POST", "/v1/imports?of=lots&name=other", raw=other)
    assert api.post(f"/v1/imports/{between.body['id']}/apply").status == 200
    del checks[:]
    assert api.post(f"{sent}/apply").status == 200
    assert checks == []


def test_options_that_were_changed_replace_what_was_kept(api: Api, sent: str) -> None:
    """A file that is read otherwise becomes what it says then; one with problems keeps nothing."""
    assert api.patch(sent, {"mapping": {"made on": None}}).body["state"] == "checked"
    assert api.patch(sent, {"mapping": {"part": None}}).body["state"] == "faulty"
    assert api.post(f"{sent}/apply").status == 409
    assert api.patch(sent, {"mapping": {"note": None}}).body["state"] == "checked"
    assert api.post(f"{sent}/apply").status == 200
    lots = api.get("/v1/lots").body["lots"]
    assert [(lot["made_on"], lot["note"]) for lot in lots] == [
        ("2026-03", ""),
        (None, ""),
        ("2025", ""),
    ]


def test_a_part_that_changes_at_the_last_moment_stops_it(
    api: Api, sent: str, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the look at what was named and the lock a part is changed: nothing is written."""
    honest = operations.still_checked

    def overtaken(work: Any, row: Any) -> Any:
        found = honest(work, row)
        with database.writer.begin() as connection:
            connection.execute(text("UPDATE part SET material = 'silicone' WHERE number = 'P1'"))
        return found

    monkeypatch.setattr(operations, "still_checked", overtaken)
    refused = api.post(f"{sent}/apply")
    assert refused.status == 409
    assert refused.body["detail"] == "part 'P1' was changed; check the file again"
    assert kept(database) == ([], [])


def test_pieces_of_no_known_day_arrive_on_the_day_they_are_brought_in(
    api: Api, sent: str, clock: Any, checks: list[str]
) -> None:
    """What was checked yesterday and applied today has come today, where the file names no day."""
    clock.now += timedelta(days=1)
    assert api.post(f"{sent}/apply").status == 200
    assert checks == []
    named, unnamed, _ = api.get("/v1/lots").body["lots"]
    assert named["arrived_at"].startswith("2026-04-03")
    assert unnamed["arrived_at"].startswith(f"{clock.now:%Y-%m-%dT%H:%M}")


SAID = st.one_of(
    st.none(),
    st.integers(-1, 3),
    st.sampled_from(["", "latex", "2026-03", "2026-11-31", "7 mm", "x\x00", "P1", "1.50", " é "]),
    st.dictionaries(
        st.sampled_from(["outside_diameter", "length", "girth"]),
        st.one_of(
            st.sampled_from(["7 mm", "0", "9/32 in", ""]),
            st.fixed_dictionaries({"value": st.just("7 mm"), "spread": st.just("0.1 mm")}),
        ),
    ),
    st.lists(st.just("latex"), max_size=2),
)
READERS = [RowReader(NewLotSchema()), RowReader(PastJobSchema())]


@given(st.data())
def test_rows_are_read_as_their_schema_reads_them(data: st.DataObject) -> None:
    """What was read of other rows makes no difference, neither to what is loaded nor to a fault."""
    reader, schema = data.draw(
        st.sampled_from(list(zip(READERS, [NewLotSchema(), PastJobSchema()], strict=True)))
    )
    names = st.sampled_from([*schema.load_fields, "nonsense"])
    good = {"part": "P1", "drawer": "A3", "pen": "a pen", "done_on": "2026-01-02"}
    said = {name: text for name, text in good.items() if name in schema.load_fields}
    said |= data.draw(st.dictionaries(names, SAID, max_size=4))
    assert outcome(reader, said) == outcome(schema, said)


def outcome(reader: Any, said: dict[str, Any]) -> tuple[str, Any]:
    """Return what is loaded, or what is said against it."""
    try:
        return "loaded", reader.load(said)
    except ma.ValidationError as refused:
        return "refused", refused.messages


def test_what_is_remembered_is_bounded() -> None:
    """A column in which every row says something else does not fill the memory."""
    asked: list[int] = []
    doubled = Remembered(lambda number: asked.append(number) or 2 * number)
    assert [doubled[number] for number in (3, 3, 4)] == [6, 6, 8]
    assert asked == [3, 4]
    assert [doubled[number] for number in range(MOST_REMEMBERED + 5)][-1] == 2 * (
        MOST_REMEMBERED + 4
    )
    assert len(doubled) == MOST_REMEMBERED
