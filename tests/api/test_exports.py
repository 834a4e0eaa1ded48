"""Taking everything out: the lists, and a document from which an empty database is filled again."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import func, select, text

from conftest import NOW
from sparewell.app.factory import create_app
from sparewell.app.owners import owners_of_tables
from sparewell.cli.exports import LISTS
from sparewell.database import faults
from sparewell.database.copying import columns_of
from sparewell.database.engine import Database, open_database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token
from sparewell.exports.everything import LEFT_OUT, tables_kept
from sparewell.exports.listings import LISTINGS
from sparewell.extend.host import Declarations
from sparewell_demo_seed.loader import load_workshop
from support.api import Api
from support.commands import END_STATUS, Ended, run, run_and_end_at
from support.demo import Demo
from support.pictures import png
from support.postgres import Cluster

SETTINGS = (
    "INSERT INTO setting_change (name, value, entered, why, actor, at) VALUES "
    "('sacs.wall', {value}, '', '', 'demo', '2026-11-25 12:00:00.000001+00')"
)


@pytest.fixture(scope="session")
def postgres_demo(cluster: Cluster, postgres_template: str, declared: Declarations) -> str:
    """The name of a PostgreSQL database with the demo workshop in it, to be copied."""
    name = cluster.create(template=postgres_template)
    database = open_database(cluster.url(name))
    load_workshop(database, declared, NOW)
    database.close()
    return name


@pytest.fixture
def full(
    app: Flask,
    database: Database,
    token_of: Callable[[str], str],
    request: pytest.FixtureRequest,
) -> Api:
    """A demo workshop that was used: photographs, imports of each state, numbers that are gone."""
    if database.file:
        shutil.copy(request.getfixturevalue("demo").file, database.file)
    else:
        database.close()
        cluster: Cluster = request.getfixturevalue("cluster")
        cluster.drop("workshop")
        cluster.create("workshop", request.getfixturevalue("postgres_demo"))
    api = Api(app, token_of("admin"))
    api.post("/v1/drawers", {"code": "Z1", "note": "Größe “7”\n\t=x"}, Idempotency_Key="Z1")
    picture = png(400, 300, grey=90)
    assert api.call("POST", "/v1/pens/PEN-0002/photographs", raw=picture).status == 201
    for name, verbs in (("clean", ["apply"]), ("waiting", []), ("gone", ["withdraw"])):
        table = f"number,kind\n{name},sac\n" if name != "waiting" else "number,kind\nx,wheel\n"
        sent = api.call("POST", f"/v1/imports?of=parts&name={name}", raw=table)
        for verb in verbs:
            assert api.post(f"/v1/imports/{sent.body['id']}/{verb}").status == 200
    with database.writer.begin() as connection:
        for value in ("NULL", "'null'", "'[1, 2]'", "'\"2 mm\"'"):
            zone = "" if database.is_sqlite else "+00"
            statement = SETTINGS.format(value=value).replace("+00", zone)
            connection.execute(text(statement))
    return api


@pytest.fixture(scope="module")
def document(demo: Demo, declared: Declarations, tmp_path_factory: pytest.TempPathFactory) -> str:
    """What is exported of a demo workshop."""
    file = shutil.copy(demo.file, tmp_path_factory.mktemp("exported") / "demo.sqlite3")
    database = open_database(f"sqlite:///{file}")
    token = write(database, lambda session: new_token(session, "keeper", "admin", NOW))
    text_ = Api(create_app(database, declared), token).get("/v1/export.json").text
    database.close()
    return text_


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of another migrated, empty database of either kind."""
    if request.param == "sqlite":
        path = tmp_path / "empty.sqlite3"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
    else:
        cluster = request.getfixturevalue("cluster")
        name = cluster.create(template=request.getfixturevalue("postgres_template"))
        yield cluster.url(name)
        cluster.drop(name)


def exported(api: Api, folder: Path) -> Path:
    """Write everything into a file."""
    reply = api.get("/v1/export.json")
    assert reply.status == 200
    file = folder / "everything.json"
    file.write_bytes(reply.data)
    return file


def contents(database: Database, declared: Declarations) -> dict[str, list[Any]]:
    """Return every row of every table that is carried, as it is read."""
    found = {}
    with database.engine.connect() as connection:
        for table in tables_kept(owners_of_tables(declared)):
            rows = connection.execute(select(*columns_of(table)))
            found[table.name] = sorted([str(value) for value in row] for row in rows)
    return found


def test_everything_comes_back_row_by_row(
    full: Api, database: Database, declared: Declarations, empty_url: str, tmp_path: Path
) -> None:
    """From either database into either, every table but the keys' is the same, row by row."""
    file = exported(full, tmp_path)
    ended = run(empty_url, "import", file)
    assert ended.status == 0, ended.said
    assert "everything agrees" in ended.said
    other = open_database(empty_url)
    before, after = contents(database, declared), contents(other, declared)
    assert set(before) == set(after)
    for name, rows in before.items():
        assert after[name] == rows, name
    assert before["photograph_image"]
    assert len(before["setting_change"]) >= 4
    with other.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM token")).scalar() == 0
        gone = connection.execute(text("SELECT count(*) FROM setting_change WHERE value IS NULL"))
        assert gone.scalar() == 1
    again = run(empty_url, "import", file)
    other.close()
    assert again.status == 1
    assert "not empty: there are rows in act" in again.said


def test_numbers_go_on_behind_those_that_are_gone(
    api: Api, database: Database, declared: Declarations, empty_url: str, tmp_path: Path
) -> None:
    """A row that was deleted before the export keeps its number from being given again."""
    for name in ("kept", "gone"):
        api.call("POST", f"/v1/imports?of=parts&name={name}", raw="number,kind\nx,sac\n")
    with database.engine.connect() as connection:
        before = connection.execute(text("SELECT max(id) FROM notebook_import")).scalar()
    with database.writer.begin() as connection:
        connection.execute(text("DELETE FROM notebook_import WHERE id = :id"), {"id": before})
    assert run(empty_url, "import", exported(api, tmp_path)).status == 0
    other = open_database(empty_url)
    tables = {table.name: table for table in tables_kept(owners_of_tables(declared))}
    table = tables["notebook_import"]
    with other.writer.begin() as connection:
        row = dict(connection.execute(select(table).limit(1)).mappings().one())
        connection.execute(table.insert(), {name: row[name] for name in row if name != "id"})
        given = connection.execute(select(func.max(table.c.id))).scalar()
    other.close()
    assert given == before + 1


def test_no_key_to_the_service_is_in_it(api: Api, token_of: Callable[[str], str]) -> None:
    """Neither tokens nor kept answers are in the document, and only admin may have it."""
    api.stock()
    document = api.get("/v1/export.json").body
    names = {table["table"] for table in document["tables"]}
    assert not names & LEFT_OUT
    assert "act" in names
    api.token = token_of("write")
    assert api.get("/v1/export.json").status == 403
    api.token = token_of("read")
    assert api.get("/v1/export/lots.csv").status == 200


def _cut(text_: str) -> str:
    return text_[: len(text_) // 2]


def _other_revision(text_: str) -> str:
    return text_.replace('"revisions": {"core": "', '"revisions": {"core": "9', 1)


def _changed_row(text_: str) -> str:
    return text_.replace('"drawer"', '"tray"', 1)


@pytest.mark.parametrize(
    ("damage", "sentence"),
    [
        (_cut, "is damaged"),
        (_other_revision, "of another revision: core 9"),
        (_changed_row, "place: the"),
        (lambda _: "{}", "no document of everything"),
        (lambda text_: json.dumps(json.loads(text_), indent=1), "no other program has changed it"),
        (lambda text_: text_.replace('"table": "act"', '"table": "acts"', 1), "the table"),
        (lambda text_: text_ + "x", "does not end where it should"),
    ],
)
def test_a_document_that_is_not_whole_leaves_nothing(
    document: str,
    declared: Declarations,
    empty_url: str,
    tmp_path: Path,
    damage: Callable[[str], str],
    sentence: str,
) -> None:
    """Whatever is wrong with it is told, and the database is as empty as it was."""
    file = tmp_path / "everything.json"
    file.write_text(damage(document), "utf-8")
    ended = run(empty_url, "import", file)
    assert ended.status == 1
    assert sentence in ended.said
    _assert_empty(empty_url, declared)


def _assert_empty(url: str, declared: Declarations) -> None:
    other = open_database(url)
    found = contents(other, declared)
    other.close()
    assert not any(found.values())


def test_a_crash_on_the_way_leaves_nothing(
    document: str, declared: Declarations, empty_url: str, tmp_path: Path
) -> None:
    """A process that ends behind the first table leaves the database empty, and may try again."""
    file = tmp_path / "everything.json"
    file.write_text(document, "utf-8")
    assert run_and_end_at(faults.AFTER_TABLE_COPIED, empty_url, "import", file) == END_STATUS
    _assert_empty(empty_url, declared)
    assert run(empty_url, "import", file).status == 0


def test_what_does_not_balance_is_not_brought_in(
    api: Api, database: Database, declared: Declarations, empty_url: str, tmp_path: Path
) -> None:
    """A ledger that disagrees with the balances is refused, though every row came over."""
    api.stock()
    lot = "(SELECT min(id) FROM lot WHERE in_hand > 0)"
    change = f"UPDATE lot SET in_hand = in_hand {{}} 1 WHERE id = {lot}"
    with database.writer.begin() as connection:
        connection.execute(text(change.format("+")))
    file = exported(api, tmp_path)
    with database.writer.begin() as connection:
        connection.execute(text(change.format("-")))
    ended: Ended = run(empty_url, "import", file)
    assert ended.status == 1
    assert "nothing was brought in, for there is a fault in it" in ended.said
    _assert_empty(empty_url, declared)


def rows_of(api: Api, plural: str) -> list[dict[str, str]]:
    """Return a list as a spreadsheet would read it."""
    reply = api.get(f"/v1/export/{plural}.csv")
    assert reply.status == 200
    return list(csv.DictReader(io.StringIO(reply.data.decode("utf-8-sig"), newline="")))


def test_every_list_has_a_row_for_each_thing(full: Api, database: Database) -> None:
    """Each list is whole, and the command asks for all there are."""
    assert tuple(LISTINGS) == LISTS
    with database.engine.connect() as connection:
        for name, listing in LISTINGS.items():
            wanted = connection.execute(
                select(func.count()).select_from(listing.statement.order_by(None).subquery())
            ).scalar()
            assert len(rows_of(full, name)) == wanted, name
            assert wanted or name in {"outcomes", "components"}, name
    missing = full.get("/v1/export/wheels.csv")
    assert (missing.status, "there are parts" in missing.body["detail"]) == (404, True)


def test_texts_that_spreadsheets_would_reckon_with_are_kept_harmless_and_come_back(
    api: Api,
) -> None:
    """Each gets an apostrophe on its way out and loses it on its way in; figures stay figures."""
    notes = ["=1+1", "+1", "-1", "@x", "'=x", "''-x", "'x", "plain"]
    api.stock()
    for position, note in enumerate(notes):
        body = {"number": f"P{position}", "kind": "sac", "note": note}
        assert api.post("/v1/parts", body).status == 201
    out = [row for row in rows_of(api, "parts") if row["number"].startswith("P")]
    assert [row["note"] for row in out] == [
        *("'=1+1", "'+1", "'-1", "'@x", "''=x", "'''-x", "'x", "plain"),
    ]
    assert api.post("/v1/lots/1/discard", {"quantity": 3}).status == 200
    assert [row["change"] for row in rows_of(api, "movements")] == ["10", "-3"]
    raw = api.get("/v1/export/parts.csv").data.decode("utf-8-sig")
    again = raw.replace("P", "Q").replace("SAC-15-STR", "SAC-15-AGAIN")
    sent = api.call("POST", "/v1/imports?of=parts&name=parts.csv", raw=again.encode())
    assert sent.body["state"] == "checked", sent.body["problems"]
    assert api.post(f"/v1/imports/{sent.body['id']}/apply").status == 200
    for position, note in enumerate(notes):
        assert api.get(f"/v1/parts/Q{position}").body["note"] == note
    old, new = (api.get(f"/v1/parts/SAC-15-{name}").body for name in ("STR", "AGAIN"))
    assert new["dimensions"] == old["dimensions"]


def test_the_list_of_lots_comes_back_as_lots(api: Api) -> None:
    """What is in hand comes back in with its drawer, size, cost, age and label."""
    said = {"label": "no. 15", "made_on": "2026-Q1", "cost": "8.50", "note": "two\nlines"}
    lot = api.stock(7, **said)
    raw = api.get("/v1/export/lots.csv").data
    sent = api.call("POST", "/v1/imports?of=lots&name=lots.csv", raw=raw)
    assert sent.body["state"] == "checked", sent.body["problems"]
    assert api.post(f"/v1/imports/{sent.body['id']}/apply").status == 200
    again = api.get("/v1/lots/2").body
    same = ("part", "place", "in_hand", "measured", "label", "made_on", "cost", "note", "material")
    assert {name: again[name] for name in same} == {name: lot[name] for name in same}
