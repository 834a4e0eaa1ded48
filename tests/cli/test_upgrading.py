"""Backups across releases: kept before a migration, restored older, refused newer."""

from __future__ import annotations

import shutil
import sqlite3
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from sparewell.app.factory import create_app
from sparewell.database.engine import open_database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from support.api import Api
from support.commands import Ended, partial_files, run
from support.postgres import Cluster

OUTSIDE = Path(__file__).parents[1] / "packaging" / "out_of_tree_plugin"
SECOND_REVISION = '''
"""A second revision of the plugin, which rebuilds its table."""

from alembic import op
import sqlalchemy as sa

revision = "0002"
down_revision = "0001"


def upgrade():
    with op.batch_alter_table("bushings_turning") as table:
        table.alter_column("stock", type_=sa.String(300))


def downgrade():
    pass
'''


class Releases:
    """The out-of-tree plugin as it is installed for one command: not at all, or a release of it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def run(self, release: int, database_url: str, *arguments: str | Path) -> Ended:
        """Run a command with a release of the plugin; 0 is without it."""
        if release == 0:
            return run(database_url, *arguments)
        folder = self._folder / f"release_{release}"
        if not folder.exists():
            self._make(folder, release)
        with pytest.MonkeyPatch.context() as patch:
            patch.syspath_prepend(str(folder))
            ended = run(database_url, *arguments)
        for name in [name for name in sys.modules if name.startswith("sparewell_bushings")]:
            del sys.modules[name]
        return ended

    def _make(self, folder: Path, release: int) -> None:
        module = folder / "sparewell_bushings"
        shutil.copytree(OUTSIDE / module.name, module)
        if release > 1:
            (module / "versions" / "0002_stock.py").write_text(SECOND_REVISION)
        information = folder / f"sparewell_bushings-{release}.dist-info"
        information.mkdir()
        (information / "METADATA").write_text(
            f"Metadata-Version: 2.1\nName: sparewell-bushings\nVersion: {release}\n"
        )
        (information / "entry_points.txt").write_text(
            "[sparewell.plugins]\nbushings = sparewell_bushings.plugin\n"
        )


@pytest.fixture
def releases(tmp_path: Path) -> Releases:
    """Give the plugin's releases."""
    return Releases(tmp_path)


@pytest.fixture
def file(sqlite_template: Path, declared: Declarations, tmp_path: Path) -> Path:
    """Give a database with one lot, and without the plugin's tables."""
    file = tmp_path / "workshop.sqlite3"
    shutil.copy(sqlite_template, file)
    database = open_database(f"sqlite:///{file}")
    now = datetime(2026, 11, 25, 12, tzinfo=UTC)
    token = write(database, lambda session: new_token(session, "bench", "admin", now))
    Api(create_app(database, declared), token).stock()
    database.close()
    return file


def ask(file: Path, statement: str) -> Any:
    """Return the first row of an answer."""
    with closing(sqlite3.connect(file)) as database, database:
        return database.execute(statement).fetchone()


def kept_by(file: Path) -> list[Path]:
    """Return the databases that were kept before a migration."""
    return sorted(file.parent.glob("*.before-migration-*"))


def test_a_migration_keeps_the_database_as_it_was(file: Path, releases: Releases) -> None:
    """What is there and behind is kept before it is brought up; what is new or current is not."""
    url, new = f"sqlite:///{file}", file.with_name("new.sqlite3")
    assert releases.run(0, url, "migrate").status == 0
    assert releases.run(1, f"sqlite:///{new}", "migrate").status == 0
    assert kept_by(file) == []
    first = releases.run(1, url, "migrate")
    assert first.status == 0, first.said
    (without,) = kept_by(file)
    assert f"kept: {without}" in first.said
    assert ask(without, "SELECT count(*) FROM sqlite_master WHERE name LIKE 'bush%'") == (0,)
    ask(file, "INSERT INTO bushings_turning VALUES (5, 1, 'brass', '2026-05-04')")
    assert releases.run(2, url, "migrate").status == 0
    (at_first,) = {*kept_by(file)} - {without}
    assert ask(at_first, "SELECT version_num FROM alembic_version_bushings") == ("0001",)
    assert ask(at_first, "SELECT id, stock FROM bushings_turning") == (5, "brass")
    assert ask(file, "SELECT version_num FROM alembic_version_bushings") == ("0002",)
    assert partial_files(file.parent) == []

    restored = releases.run(2, url, "restore", at_first)
    assert restored.status == 0, restored.said
    assert "tables of bushings are to be brought up: sparewell migrate" in restored.said
    assert releases.run(2, url, "migrate").status == 0
    assert ask(file, "SELECT id, stock FROM bushings_turning") == (5, "brass")


def test_a_migration_that_cannot_keep_the_database_changes_nothing(
    file: Path, releases: Releases
) -> None:
    """A file in which rows dangle is not brought up, for no sound backup of it can be made."""
    ask(file, "UPDATE lot SET place_id = 77")
    ran = releases.run(1, f"sqlite:///{file}", "migrate")
    assert (ran.status, "lot: row 1 points at a row of place" in ran.said) == (1, True)
    assert ask(file, "SELECT count(*) FROM sqlite_master WHERE name LIKE '%bush%'") == (0,)


def test_newer_tables_are_refused_and_those_of_no_plugin_are_kept(
    file: Path, releases: Releases
) -> None:
    """An older plugin is told which revision is newer; without it the rows are there untouched."""
    url, backup = f"sqlite:///{file}", file.with_name("backup.sqlite3")
    assert releases.run(2, url, "migrate").status == 0
    assert releases.run(2, url, "backup", backup).status == 0
    for command in (("restore", backup), ("backup", f"{backup}-2"), ("migrate",)):
        ran = releases.run(1, url, *command)
        assert ran.status == 1
        assert "the bushings tables of this database are at 0002, which is newer" in ran.said
    assert releases.run(0, url, "restore", backup).status == 0
    assert ask(file, "SELECT version_num FROM alembic_version_bushings") == ("0002",)


@pytest.mark.postgres
def test_rows_of_plugins_are_moved_and_none_is_left_behind(
    file: Path, cluster: Cluster, releases: Releases
) -> None:
    """A plugin's rows go along; without the plugin no command copies, and it is named."""
    url, back, old = f"sqlite:///{file}", file.with_name("back"), file.with_name("old")
    assert releases.run(0, url, "backup", old).status == 0
    assert releases.run(1, url, "migrate").status == 0
    ask(file, "INSERT INTO bushings_turning VALUES (5, 1, 'ä', '2026-05-04')")
    server = cluster.url(cluster.create())
    refused = releases.run(0, url, "move", "--to", server)
    assert (refused.status, "holds tables of bushings" in refused.said) == (1, True)
    moved = releases.run(1, url, "move", "--to", server)
    assert moved.status == 0, moved.said
    refused = releases.run(0, server, "backup", back)
    assert (refused.status, "holds tables of bushings" in refused.said) == (1, True)
    assert releases.run(1, server, "backup", back).status == 0
    assert ask(back, "SELECT * FROM bushings_turning") == (5, 1, "ä", "2026-05-04")
    assert ask(back, "SELECT seq FROM sqlite_sequence WHERE name = 'bushings_turning'") == (5,)

    empty = cluster.url(cluster.create())
    refused = releases.run(0, empty, "restore", back)
    assert (refused.status, "holds tables of bushings" in refused.said) == (1, True)
    assert releases.run(1, empty, "restore", old).status == 0
    checked = releases.run(1, empty, "migrate", "--check")
    assert (checked.status, "bushings: current, at 0001" in checked.said) == (0, True)
