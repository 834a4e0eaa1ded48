"""Fixtures: every test that touches a database runs on SQLite and on PostgreSQL."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import hypothesis
import pytest
from flask import Flask

from sparewell.app.declarations import core_declarations
from sparewell.app.factory import create_app
from sparewell.app.owners import owners_of_tables
from sparewell.audit.pieces import audit
from sparewell.database import migrate
from sparewell.database.engine import Database, open_database
from sparewell.database.transaction import read, write
from sparewell.edge.context import EXTENSION, Services
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from support import parts, postgres
from support.api import Api
from support.demo import Demo, make_demo, read_demo
from support.once import made_once
from support.statements import calculators_watched

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
IN_CI = os.environ.get("CI") == "true"

# In CI the examples are many and the same at every run; on a desk they are few, and new each time.
hypothesis.settings.register_profile(
    "ci", max_examples=200, derandomize=True, deadline=None, print_blob=True
)
hypothesis.settings.register_profile("desk", max_examples=40, deadline=None)
hypothesis.settings.load_profile("ci" if IN_CI else "desk")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let one choose a part of the suite."""
    parser.addoption(
        "--part",
        choices=[parts.QUICK, parts.REST, parts.WHOLE],
        default=parts.QUICK,
        help="quick: before each commit; rest: what that leaves out; whole: both",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Choose it, and say what was left out."""
    config.pluginmanager.register(parts.Parts())


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture(scope="session")
def declared() -> Declarations:
    """What the bundled plugins declare."""
    return core_declarations()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory, declared: Declarations) -> Path:
    """A migrated, empty SQLite file, to be copied."""

    def make(folder: Path) -> None:
        database = open_database(f"sqlite:///{folder / 'template.sqlite3'}")
        migrate.upgrade(database, owners_of_tables(declared))
        database.close()

    return made_once(tmp_path_factory, "template", make) / "template.sqlite3"


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory, declared: Declarations) -> Demo:
    """The demo workshop in an SQLite file: to be looked at, or copied."""
    return read_demo(
        made_once(tmp_path_factory, "demo", lambda folder: make_demo(folder, declared))
    )


@pytest.fixture(scope="session")
def cluster() -> Iterator[postgres.Cluster]:
    """A PostgreSQL server; without binaries the tests are skipped, in CI they fail."""
    found = postgres.binaries()
    if found is None:
        if IN_CI:
            pytest.fail("CI has no PostgreSQL server binaries: .ci/run must install them")
        pytest.skip("no PostgreSQL server binaries here: apt-get install postgresql")
    with postgres.cluster(found) as running:
        yield running


@pytest.fixture(scope="session")
def postgres_template(cluster: postgres.Cluster, declared: Declarations) -> str:
    """The name of a migrated, empty PostgreSQL database, to be copied."""
    name = cluster.create()
    database = open_database(cluster.url(name))
    migrate.upgrade(database, owners_of_tables(declared))
    database.close()
    return name


@pytest.fixture(scope="session")
def opened() -> Iterator[Callable[[str], Database]]:
    """Open an address once a session: an engine remembers each statement it has compiled."""
    databases: dict[str, Database] = {}

    def open_once(address: str) -> Database:
        if address not in databases:
            databases[address] = open_database(address)
        return databases[address]

    yield open_once
    for database in databases.values():
        database.close()


@pytest.fixture(scope="session")
def sqlite_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the SQLite database of one test after the other lies."""
    return tmp_path_factory.mktemp("workshop") / "sparewell.sqlite3"


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def database_url(request: pytest.FixtureRequest) -> Iterator[str]:
    """The address of a migrated, empty database of either kind: the same one for every test."""
    if request.param == "sqlite":
        path: Path = request.getfixturevalue("sqlite_file")
        for each in path.parent.iterdir():
            each.unlink()
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
    else:
        template = request.getfixturevalue("postgres_template")
        running: postgres.Cluster = request.getfixturevalue("cluster")
        running.create("workshop", template)
        yield running.url("workshop")
        running.drop("workshop")


@pytest.fixture
def database(database_url: str, opened: Callable[[str], Database]) -> Iterator[Database]:
    """A migrated, empty database; whatever the test did, its ledger must balance at the end."""
    database = opened(database_url)
    yield database
    with read(database) as session:
        faults = audit(session).faults
    database.close()
    assert not faults


@pytest.fixture(autouse=True)
def under_the_lock() -> Iterator[list[str]]:
    """Whatever is tested, no request runs a calculator while its write transaction is open."""
    with calculators_watched() as noted:
        yield noted
    assert not noted


@pytest.fixture
def clock() -> Clock:
    """The clock of the service under test."""
    return Clock()


@pytest.fixture(scope="session")
def shared_app(sqlite_template: Path, declared: Declarations) -> Flask:
    """The service, put together once: that takes as long as thirty requests."""
    return create_app(open_database(f"sqlite:///{sqlite_template}"), declared)


@pytest.fixture
def app(shared_app: Flask, database: Database, declared: Declarations, clock: Clock) -> Flask:
    """The service, on this test's database and clock; a test that adds to it takes `own_app`."""
    shared_app.extensions[EXTENSION] = Services(database, declared, clock)
    return shared_app


@pytest.fixture
def own_app(database: Database, declared: Declarations, clock: Clock) -> Flask:
    """A service that the test may add to."""
    return create_app(database, declared, clock=clock)


@pytest.fixture
def token_of(database: Database) -> Callable[[str], str]:
    """Return a maker of tokens by scope."""

    def make(scope: str) -> str:
        return write(database, lambda session: new_token(session, f"a {scope}", scope, NOW))

    return make


@pytest.fixture
def api(app: Flask, token_of: Callable[[str], str]) -> Api:
    """A client with a token of every scope."""
    return Api(app, token_of("admin"))
