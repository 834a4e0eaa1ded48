"""The commands that work on the database themselves."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from sparewell.database.sqlite_version import known_bug
from support.commands import run


def test_migrate_makes_the_folder_and_the_tables(workshop: Any) -> None:
    """`--check` is 1 before and 0 after, and looking makes no file."""
    assert workshop.run("migrate", "--check").status == 1
    assert not workshop.database_file.exists()
    ran = workshop.run("migrate")
    assert ran.status == 0
    assert ran.out.startswith("core: from nothing to ")
    checked = workshop.run("migrate", "--check")
    assert (checked.status, checked.out.split(",")[0]) == (0, "core: current")


def test_migrate_names_what_it_leaves_alone_and_what_is_newer(migrated: Any) -> None:
    """Tables of an absent plugin are named; a database ahead of the program is refused by name."""
    with closing(sqlite3.connect(migrated.database_file)) as database:
        database.execute("CREATE TABLE alembic_version_gone (version_num TEXT)")
        database.commit()
    ran = migrated.run("migrate")
    assert ran.status == 0
    assert "core: already at " in ran.out
    assert "gone: left alone" in ran.out
    with closing(sqlite3.connect(migrated.database_file)) as database:
        database.execute("UPDATE alembic_version_core SET version_num = '9999'")
        database.commit()
    for command in (("migrate",), ("serve", "--port", "0"), ("audit",)):
        refused = migrated.run(*command)
        assert refused.status == 1
        assert "the core tables of this database are at 9999" in refused.err
    assert migrated.run("migrate", "--check").status == 1


@pytest.mark.parametrize(
    "arguments",
    [("serve", "--port", "0"), ("audit",), ("token", "new", "bench", "--scope", "read")],
)
def test_without_tables_comes_migrate_first(workshop: Any, arguments: tuple[str, ...]) -> None:
    """Every command that needs tables says what comes first, and makes no file."""
    ran = workshop.run(*arguments)
    assert ran.status == 1
    assert "first: sparewell migrate" in ran.err
    assert not workshop.database_file.exists()


def test_the_token_stands_alone_on_standard_output(migrated: Any) -> None:
    """`token new` prints the token as the only line; the list has its state, never its text."""
    ran = migrated.run("token", "new", "bench", "--scope", "write", "--expires-days", "30")
    assert ran.status == 0
    (token,) = ran.out.splitlines()
    assert token.startswith("spare-")
    assert "bench" in ran.err
    again = migrated.run("token", "new", "bench", "--scope", "read")
    assert (again.status, again.out) == (1, "")
    assert migrated.run("token", "revoke", "bench").status == 0
    assert migrated.run("token", "revoke", "nobody").status == 1
    listed = migrated.run("token", "list", "--json")
    (row,) = json.loads(listed.out)["tokens"]
    assert (row["name"], row["scope"], row["state"]) == ("bench", "write", "revoked")
    assert token not in listed.out


def test_audit_finds_what_was_written_behind_its_back(migrated: Any, stocked: Any) -> None:
    """A balance changed by another hand is a fault, named, with status 1."""
    with (
        closing(sqlite3.connect(stocked[0].database_file)) as source,
        closing(sqlite3.connect(migrated.database_file)) as target,
    ):
        source.backup(target)
        target.execute("UPDATE lot SET in_hand = in_hand + 1")
        target.commit()
    ran = migrated.run("audit")
    assert ran.status == 1
    assert "lot 1: 11 in hand, and the ledger adds up to 10" in ran.out
    assert len(json.loads(migrated.run("audit", "--json").out)["faults"]) == 1


def test_audit_finds_a_file_that_is_not_sound(sqlite_template: Path, tmp_path: Path) -> None:
    """Rows that point nowhere, and pages that SQLite cannot read, are faults with status 1."""
    file = tmp_path / "workshop.sqlite3"
    shutil.copy(sqlite_template, file)
    url = f"sqlite:///{file}"
    assert run(url, "audit").status == 0
    with closing(sqlite3.connect(file)) as database, database:
        database.execute(
            "INSERT INTO need (job_id, kind, quantity, optional, seals_where, given, reads, "
            "together, decided, note) "
            "VALUES (77, 'sac', 1, 0, 'nipple', '{}', '{}', '', 1, '')"
        )
    ran = run(url, "audit")
    assert ran.status == 1
    assert ran.said.splitlines()[-2:] == [
        "need: row 1 points at a row of job that is not there",
        "0 lots, 0 movements, 0 reservations: 1 faults",
    ]
    content = bytearray(file.read_bytes())
    with closing(sqlite3.connect(file)) as database:
        (page,) = database.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'movement'"
        ).fetchone()
    content[4096 * (page - 1) : 4096 * page] = b"\xa5" * 4096
    file.write_bytes(content)
    ran = run(url, "audit", "--json")
    found = json.loads(ran.said)
    assert (ran.status, found["lots"]) == (1, None)
    assert found["faults"][0].startswith("the file is damaged: ")


def test_unknown_settings_are_refused(migrated: Any) -> None:
    """A slip in the name of a setting is wrong usage, named, in either kind of command."""
    for arguments in (("serve", "--port", "0"), ("stock", "check", "--kind", "sac")):
        ran = migrated.run(*arguments, SPAREWELL_TOEKN="x")
        assert ran.status == 2
        assert "SPAREWELL_TOEKN is not known" in ran.err


def test_a_database_address_of_another_kind_is_refused(workshop: Any) -> None:
    """An address that no driver here speaks is wrong usage."""
    ran = workshop.run("migrate", SPAREWELL_DATABASE_URL="mysql://somewhere/else")
    assert ran.status == 2
    assert "'mysql'" in ran.err


def test_plugins_lists_and_skips(workshop: Any) -> None:
    """Each plugin is there with its state; one to be skipped that is not there is mentioned."""
    ran = workshop.run("plugins", "--json", SPAREWELL_SKIP_PLUGINS="springs,sprngs")
    states = {row["name"]: row["state"] for row in json.loads(ran.out)["plugins"]}
    assert ran.status == 0
    assert (states["sacs"], states["springs"]) == ("loaded", "skipped")
    assert "names sprngs, not installed" in ran.err


def test_a_broken_plugin_is_named(workshop: Any, tmp_path: Path) -> None:
    """A plugin that cannot be loaded is status 1, with its name, until it is skipped by name."""
    information = tmp_path / "packages" / "cracked-1.0.dist-info"
    information.mkdir(parents=True)
    (information / "METADATA").write_text("Metadata-Version: 2.1\nName: cracked\nVersion: 1.0\n")
    (information / "entry_points.txt").write_text("[sparewell.plugins]\ncracked = no_such_module\n")
    path = {"PYTHONPATH": str(information.parent)}
    program = str(workshop.program)
    ran = workshop.python(program, "plugins", **path)
    assert (ran.status, ran.out) == (1, "")
    assert "plugin 'cracked' of distribution cracked 1.0" in ran.err
    skipping = path | {"SPAREWELL_SKIP_PLUGINS": "cracked"}
    assert workshop.python(program, "plugins", **skipping).status == 0


def test_an_sqlite_with_a_known_bug_is_named(migrated: Any) -> None:
    """The server says at its start which SQLite this is, where it has the bug."""
    with migrated.serve() as running:
        assert (known_bug() or "") in running.err_file.read_text()
