"""What the database itself refuses, whoever writes to it: the rules that may never break."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy import CheckConstraint, inspect, text
from sqlalchemy.exc import DBAPIError, IntegrityError

from sparewell.app.metadata import CORE_METADATA
from sparewell.database.engine import Database
from support.api import Api

Execute = Callable[[str], None]


@pytest.fixture
def execute(database: Database, api: Api) -> Execute:
    """Run one statement past every operation, in a workshop with one promised piece."""
    api.stock()
    assert api.post(f"/v1/jobs/{api.job()}/reservations").status == 201

    def run(statement: str) -> None:
        with database.writer.begin() as connection:
            changed = connection.execute(text(statement))
            assert changed.rowcount != 0, "the statement met no row, so it proved nothing"

    return run


@pytest.mark.parametrize(
    ("statement", "constraint"),
    [
        ("UPDATE lot SET promised = in_hand + 1, has_available = {no}", "promised_in_hand"),
        ("UPDATE lot SET promised = -1", "promised_in_hand"),
        ("UPDATE lot SET in_hand = 0, has_available = {no}", "promised_in_hand"),
        ("UPDATE lot SET has_available = {no}", "has_available_true"),
        ("UPDATE lot SET cost_minor = -1", "cost_positive"),
        ("UPDATE lot SET outside_diameter_nanometres = 0", "outside_diameter_positive"),
        ("UPDATE part SET length_nanometres = -1", "length_positive"),
        ("UPDATE reservation SET used = 1", "each_piece_ends_once"),
        ("UPDATE reservation SET quantity = 0, promised = 0", "counts_possible"),
        ("UPDATE reservation SET used = -1, released = 1", "five_ends_possible"),
        ("UPDATE reservation SET in_tray = 2", "tray_holds_promised"),
        ("UPDATE need SET quantity = 0", "quantity_positive"),
        ("UPDATE job SET state = 'lost'", "state_known"),
        ("UPDATE place SET type = 'pocket'", "type_one_of_three"),
        ("UPDATE token SET scope = 'owner'", "scope_known"),
        ("UPDATE reading SET value_text = 'about six'", "one_value"),
    ],
)
def test_the_database_refuses_what_would_break_a_rule(
    execute: Execute, database: Database, statement: str, constraint: str
) -> None:
    """A statement that breaks a rule is refused by the named CHECK, not by an operation."""
    table = statement.split()[1]
    with pytest.raises(IntegrityError, match=f"ck_{table}_{constraint}"):
        execute(statement.format(no="0" if database.is_sqlite else "FALSE"))


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE movement SET change = change + 1",
        "UPDATE movement SET act_id = act_id",
        "DELETE FROM movement",
    ],
)
def test_the_ledger_is_append_only(execute: Execute, database: Database, statement: str) -> None:
    """No line of the ledger can be changed or taken away, whoever asks."""
    with pytest.raises(DBAPIError, match="the ledger is append-only"):
        execute(statement)
    with database.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM movement")).scalar_one() == 1


def test_the_ledger_cannot_be_emptied_in_one_go(execute: Execute, database: Database) -> None:
    """Emptying the whole table passes no row trigger on PostgreSQL, and is refused all the same."""
    emptied = "DELETE FROM movement" if database.is_sqlite else "TRUNCATE movement CASCADE"
    with pytest.raises(DBAPIError, match="the ledger is append-only"):
        execute(emptied)


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM lot",
        "DELETE FROM act",
        "DELETE FROM place",
        "UPDATE lot SET part_id = 999",
        "UPDATE reservation SET job_id = 999",
    ],
)
def test_no_row_points_at_nothing(execute: Execute, statement: str) -> None:
    """A row that others point at cannot be taken away, nor one be pointed at nothing."""
    with pytest.raises(IntegrityError, match=r"(?i)foreign key"):
        execute(statement)


def test_every_declared_check_stands_in_the_database(database: Database) -> None:
    """Each CHECK that a model of the core declares is found in the migrated database by name."""
    for table in CORE_METADATA.sorted_tables:
        declared = {
            str(constraint.name)
            for constraint in table.constraints
            if isinstance(constraint, CheckConstraint)
        }
        with database.engine.connect() as connection:
            checks = inspect(connection).get_check_constraints(table.name)
        assert declared == {check["name"] for check in checks}
