"""Migrations of the core and of plugins, on both databases, both ways, and when they fail."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from shutil import copytree, ignore_patterns
from typing import Any

import pytest
from sqlalchemy import Connection, insert, inspect, text

from sparewell.app.factory import create_app
from sparewell.database import migrate
from sparewell.database.engine import Database
from sparewell.database.migrate import MigrationError, Owner
from sparewell.database.transaction import write
from sparewell.edge.context import utc_now
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from support.api import Api

pytestmark = pytest.mark.filterwarnings("ignore:Skipped unsupported reflection of expression")

SECOND_REVISION = '''
"""A second revision of the plugin."""

from alembic import op
import sqlalchemy as sa

revision = "0002"
down_revision = "0001"


def upgrade():
    op.create_table("bushings_half", sa.Column("id", sa.Integer(), primary_key=True))
    {then}


def downgrade():
    op.drop_table("bushings_half")
'''

MIGRATE_WHEN_TOLD = """
import sys
from sparewell.app import owners
from sparewell.cli import migrate
print("ready", flush=True)
sys.stdin.readline()
migrate.command([])
"""


def plain(value: Any) -> str:
    """Return what the inspector reports as text that does not depend on object identity."""
    if isinstance(value, dict):
        return str([f"{key}={plain(value[key])}" for key in sorted(value)])
    if isinstance(value, list | tuple):
        return str([plain(item) for item in value])
    return str(value)


def shape_of(database: Database, tables: Iterable[str]) -> dict[str, Any]:
    """Return what the database itself says of its tables, in an order of our own."""
    shape: dict[str, Any] = {}
    with database.engine.connect() as connection:
        inspector = inspect(connection)
        for table in sorted(tables):
            shape[table] = {
                name: sorted(map(plain, items))
                for name, items in (
                    ("columns", inspector.get_columns(table)),
                    ("primary key", [inspector.get_pk_constraint(table)]),
                    ("foreign keys", inspector.get_foreign_keys(table)),
                    ("unique", inspector.get_unique_constraints(table)),
                    ("checks", inspector.get_check_constraints(table)),
                    ("indexes", indexes_of(connection, table)),
                )
            }
    return shape


def indexes_of(connection: Connection, table: str) -> Sequence[Any]:
    """Return the indexes of a table; SQLite's as they were written, expressions and all."""
    if connection.dialect.name != "sqlite":
        return inspect(connection).get_indexes(table)
    statement = text("SELECT sql FROM sqlite_master WHERE type = 'index' AND tbl_name = :table")
    return connection.execute(statement, {"table": table}).scalars().all()


def tables_in(database: Database) -> set[str]:
    """Return the names of the tables that are there."""
    with database.engine.connect() as connection:
        return set(inspect(connection).get_table_names())


def triggers_on_movement(database: Database) -> list[str]:
    """Return the names of the triggers that guard the ledger."""
    statement = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
        if database.is_sqlite
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal ORDER BY tgname"
    )
    with database.engine.connect() as connection:
        return list(connection.execute(text(statement)).scalars())


def revisions_of(database: Database, owners: list[Owner]) -> dict[str, str | None]:
    """Return the present revision of each owner."""
    return {state.owner: state.present for state in migrate.status(database, owners)}


def run_statement(database: Database, statement: str) -> None:
    """Execute one statement as a person with a database shell would."""
    with database.writer.begin() as connection:
        connection.execute(text(statement))


def owner_with(owners: list[Owner], folder: Path, then: str) -> Owner:
    """Return the out-of-tree plugin's owner with a second revision that ends in `then`."""
    owner = next(owner for owner in owners if owner.name == "bushings")
    copytree(owner.versions, folder, ignore=ignore_patterns("__pycache__"))
    (folder / "0002_half.py").write_text(SECOND_REVISION.format(then=then).lstrip())
    return replace(owner, versions=folder)


@pytest.fixture
def bushings(owners: list[Owner]) -> Owner:
    """The out-of-tree plugin as an owner of tables."""
    return next(owner for owner in owners if owner.name == "bushings")


@pytest.fixture
def core_only(owners: list[Owner]) -> list[Owner]:
    """The core alone."""
    return owners[:1]


@pytest.fixture
def migrated(empty_database: Database, owners: list[Owner]) -> Database:
    """A database brought up from nothing, the out-of-tree plugin's tables included."""
    migrate.upgrade(empty_database, owners)
    return empty_database


@pytest.fixture
def stocked(migrated: Database, declared_with_bushings: Declarations, bushings: Owner) -> Database:
    """A migrated database with a lot in it, and a row of the plugin that points at the lot."""
    token = write(migrated, lambda session: new_token(session, "bench", "admin", utc_now()))
    lot = Api(create_app(migrated, declared_with_bushings), token).stock()
    row = {"lot_id": lot["id"], "stock": "3 mm brass bar", "turned_on": utc_now().date()}
    with migrated.writer.begin() as connection:
        connection.execute(insert(bushings.metadata.tables["bushings_turning"]).values(row))
    return migrated


def count_of(database: Database, table: str) -> int:
    """Return how many rows a table has."""
    with database.engine.connect() as connection:
        return connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one()


def test_every_owner_comes_up_from_nothing(migrated: Database, owners: list[Owner]) -> None:
    """From an empty database every owner reaches its newest revision and shows no drift."""
    states = migrate.status(migrated, owners)
    assert states[0].owner == "core"
    assert "bushings" in {state.owner for state in states}
    assert all(state.is_current and state.present for state in states)
    for owner in owners:
        migrate.check(migrated, owner)
    assert migrate.orphans(migrated, owners) == []


def test_each_owner_has_a_version_table_of_its_own(migrated: Database, owners: list[Owner]) -> None:
    """The core and each plugin keep their revision in separate tables."""
    tables = tables_in(migrated)
    assert {f"alembic_version_{owner.name}" for owner in owners} <= tables
    assert "alembic_version" not in tables
    assert "bushings_turning" in tables


def test_a_second_upgrade_changes_nothing(migrated: Database, owners: list[Owner]) -> None:
    """Bringing up what is already up is allowed and leaves the tables as they were."""
    before = shape_of(migrated, tables_in(migrated))
    migrate.upgrade(migrated, owners)
    assert shape_of(migrated, tables_in(migrated)) == before


def test_everything_goes_down_and_comes_up_the_same(
    migrated: Database, owners: list[Owner]
) -> None:
    """Down to base leaves only version tables; up again gives the same tables and triggers."""
    before = shape_of(migrated, tables_in(migrated)), triggers_on_movement(migrated)
    assert before[1]
    for owner in reversed(owners):
        migrate.downgrade(migrated, owner, "base")
    assert tables_in(migrated) == {owner.version_table for owner in owners}
    assert triggers_on_movement(migrated) == []
    migrate.upgrade(migrated, owners)
    after = shape_of(migrated, tables_in(migrated)), triggers_on_movement(migrated)
    assert after == before


@pytest.mark.differs
def test_models_and_migrations_make_the_same_tables(
    migrated: Database, owners: list[Owner], new_database: Callable[[], Database]
) -> None:
    """What the revisions build is, to the text of each constraint, what the models declare."""
    another_empty = new_database()
    for owner in owners:
        owner.metadata.create_all(another_empty.engine)
    for owner in owners:
        names = owner.metadata.tables
        assert shape_of(migrated, names) == shape_of(another_empty, names)


def test_a_plugin_goes_down_and_up_with_data_in_place(
    stocked: Database, owners: list[Owner], bushings: Owner
) -> None:
    """A plugin taken down by its label loses its own rows only, and comes up empty again."""
    assert count_of(stocked, "bushings_turning") == 1
    migrate.downgrade(stocked, bushings, "bushings@base")
    assert "bushings_turning" not in tables_in(stocked)
    assert revisions_of(stocked, owners)["bushings"] is None
    assert revisions_of(stocked, owners)["core"] is not None
    assert (count_of(stocked, "lot"), count_of(stocked, "movement")) == (1, 1)
    migrate.upgrade(stocked, owners)
    assert count_of(stocked, "bushings_turning") == 0
    for owner in owners:
        migrate.check(stocked, owner)


def test_the_core_goes_down_with_a_ledger_in_place(stocked: Database, owners: list[Owner]) -> None:
    """The append-only ledger does not stand in the way of taking the core's tables away."""
    for owner in reversed(owners):
        migrate.downgrade(stocked, owner, "base")
    assert "movement" not in tables_in(stocked)
    migrate.upgrade(stocked, owners)
    assert count_of(stocked, "movement") == 0


def test_a_plugin_upgrade_keeps_its_rows(
    stocked: Database, owners: list[Owner], tmp_path: Path
) -> None:
    """A second revision that rebuilds the plugin's table keeps rows and foreign key."""
    then = (
        'batch = op.batch_alter_table("bushings_turning")\n'
        '    with batch as table:\n        table.alter_column("stock", type_=sa.String(300))'
    )
    owner = owner_with(owners, tmp_path / "versions", then)
    migrate.upgrade(stocked, [owner])
    assert count_of(stocked, "bushings_turning") == 1
    with stocked.engine.connect() as connection:
        (key,) = inspect(connection).get_foreign_keys("bushings_turning")
    assert (key["referred_table"], key["name"]) == ("lot", "fk_bushings_turning_lot_id_lot")


@pytest.mark.parametrize("name", ["core", "bushings"])
def test_database_newer_than_the_code_is_refused_by_name(
    migrated: Database, owners: list[Owner], name: str
) -> None:
    """A revision this program does not have is refused, naming whose tables are newer."""
    run_statement(migrated, f"UPDATE alembic_version_{name} SET version_num = '9999'")
    with pytest.raises(MigrationError, match=f"{name} tables .* newer than this program"):
        migrate.upgrade(migrated, owners)
    assert revisions_of(migrated, owners)[name] == "9999"


def test_leftovers_of_an_absent_plugin_are_named_and_the_others_go_on(
    stocked: Database, owners: list[Owner]
) -> None:
    """Without the plugin its tables are named as orphans, stay, and hinder nobody."""
    remaining = [owner for owner in owners if owner.name != "bushings"]
    assert migrate.orphans(stocked, remaining) == ["bushings"]
    migrate.upgrade(stocked, remaining)
    migrate.check(stocked, remaining[0])
    assert count_of(stocked, "bushings_turning") == 1


def test_a_failing_revision_leaves_nothing_behind(
    stocked: Database, owners: list[Owner], tmp_path: Path
) -> None:
    """A revision that raises half-way leaves neither its table nor its number."""
    owner = owner_with(owners, tmp_path / "versions", 'raise RuntimeError("half-way")')
    with pytest.raises(Exception, match="half-way"):
        migrate.upgrade(stocked, [owner])
    assert "bushings_half" not in tables_in(stocked)
    assert revisions_of(stocked, [owner]) == {"bushings": "0001"}
    assert count_of(stocked, "bushings_turning") == 1
    migrate.check(stocked, next(each for each in owners if each.name == "bushings"))


def test_a_failing_first_revision_leaves_the_core_up(
    empty_database: Database, owners: list[Owner], tmp_path: Path
) -> None:
    """When a plugin cannot come up at all, the core that came before it stays up."""
    owner = owner_with(owners, tmp_path / "versions", 'op.execute("NO SUCH STATEMENT")')
    with pytest.raises(Exception, match=r"NO SUCH STATEMENT|syntax"):
        migrate.upgrade(empty_database, [owners[0], owner])
    assert "bushings_turning" not in tables_in(empty_database)
    assert migrate.status(empty_database, [owners[0]])[0].is_current


def test_a_revision_that_would_leave_rows_dangling_is_refused(
    stocked: Database, owners: list[Owner], tmp_path: Path
) -> None:
    """Rows that point at nothing after a revision undo it, whatever it switched off."""
    owner = owner_with(owners, tmp_path / "versions", 'op.execute("DELETE FROM place")')
    with pytest.raises(Exception, match=r"not there|still referenced"):
        migrate.upgrade(stocked, [owner])
    assert count_of(stocked, "place") >= 1
    assert "bushings_half" not in tables_in(stocked)


def test_foreign_keys_are_on_again_after_a_failure(
    stocked: Database, owners: list[Owner], tmp_path: Path
) -> None:
    """A connection that a failed migration used refuses dangling rows as before."""
    owner = owner_with(owners, tmp_path / "versions", 'raise RuntimeError("half-way")')
    with pytest.raises(Exception, match="half-way"):
        migrate.upgrade(stocked, [owner])
    with pytest.raises(Exception, match=r"(?i)foreign key"):
        run_statement(stocked, "UPDATE lot SET place_id = 999")


def test_drift_is_seen_and_only_by_its_owner(migrated: Database, owners: list[Owner]) -> None:
    """A column the plugin's models do not have fails the plugin's check, not the core's."""
    run_statement(migrated, "ALTER TABLE bushings_turning ADD COLUMN lathe VARCHAR(20)")
    migrate.check(migrated, owners[0])
    with pytest.raises(MigrationError, match="bushings"):
        migrate.check(migrated, next(each for each in owners if each.name == "bushings"))


@contextmanager
def held_back(database: Database, how_many: int) -> Iterator[None]:
    """Hold PostgreSQL's migration lock until so many stand before it, so that they do meet.

    On SQLite who comes second is sent away by the lock file, whenever that is.
    """
    if database.is_sqlite:
        yield
        return
    waiting = text(
        "SELECT count(*) FROM pg_locks JOIN pg_database ON pg_database.oid = pg_locks.database "
        "WHERE locktype = 'advisory' AND NOT granted AND datname = current_database()"
    )
    with database.engine.begin() as connection:
        connection.execute(text(f"SELECT pg_advisory_xact_lock({migrate._ADVISORY_LOCK})"))
        yield
        deadline = time.monotonic() + 8
        while connection.execute(waiting).scalar_one() < how_many:
            assert time.monotonic() < deadline, "they do not wait for each other"
            time.sleep(0.02)


@pytest.mark.rest
def test_migrations_at_once_do_no_harm(empty_database: Database, core_only: list[Owner]) -> None:
    """Of several `sparewell migrate` at once one makes the tables, others wait or are refused."""
    url = empty_database.url.render_as_string(hide_password=False)
    options: dict[str, Any] = {
        "stdin": subprocess.PIPE,
        "stdout": subprocess.PIPE,
        "stderr": subprocess.STDOUT,
        "text": True,
        "env": {**os.environ, "SPAREWELL_DATABASE_URL": url},
    }
    command = [sys.executable, "-c", MIGRATE_WHEN_TOLD]
    with ExitStack() as stack:
        processes = [stack.enter_context(subprocess.Popen(command, **options)) for _ in range(3)]
        for process in processes:
            assert process.stdout.readline() == "ready\n"
        with held_back(empty_database, len(processes)):
            for process in processes:
                process.stdin.write("go\n")
                process.stdin.flush()
        said = [process.communicate(timeout=60)[0] for process in processes]
    ends = [process.returncode for process in processes]
    for told, end in zip(said, ends, strict=True):
        refused = empty_database.is_sqlite and "is in use by" in told and end == 1
        assert refused or end == 0, told
    assert 0 in ends
    assert all(state.is_current for state in migrate.status(empty_database, core_only))
