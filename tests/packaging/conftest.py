"""Fixtures: the out-of-tree plugin, empty databases of either kind, and real installations.

The installations are made once a session: the wheels are built by pip, as a user would build them,
and put into fresh environments, which know nothing of this checkout.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
import subprocess
import sys
import tomllib
import venv
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import Any

import pytest
import urllib3

from sparewell.app.owners import owners_of_tables
from sparewell.app.settings import CORE_SETTINGS
from sparewell.database.engine import Database, open_database
from sparewell.database.migrate import Owner
from sparewell.extend.host import (
    ENTRY_POINT_GROUP,
    Declarations,
    installed_entry_points,
    load_declarations,
)

ROOT = Path(__file__).parents[2]
LOWEST = ROOT / ".ci" / "lowest.txt"
OUT_OF_TREE = Path(__file__).parent / "out_of_tree_plugin"
PIP = (sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet")


@pytest.fixture
def declared_with_bushings(monkeypatch: pytest.MonkeyPatch) -> Declarations:
    """What the bundled plugins and the out-of-tree one declare, without installing the latter."""
    monkeypatch.syspath_prepend(str(OUT_OF_TREE))
    point = EntryPoint("bushings", "sparewell_bushings.plugin", ENTRY_POINT_GROUP)
    return load_declarations([*installed_entry_points(), point], core_settings=CORE_SETTINGS)


@pytest.fixture
def owners(declared_with_bushings: Declarations) -> list[Owner]:
    """The core and every plugin with tables, the out-of-tree one among them."""
    return owners_of_tables(declared_with_bushings)


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def new_database(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[[], Database]]:
    """A maker of databases of either kind in which nothing is."""
    made: list[Database] = []
    is_sqlite = request.param == "sqlite"
    cluster = None if is_sqlite else request.getfixturevalue("cluster")

    def make() -> Database:
        path = tmp_path / f"empty_{len(made)}.sqlite3"
        address = f"sqlite:///{path}" if is_sqlite else cluster.url(cluster.create())
        made.append(open_database(address))
        return made[-1]

    yield make
    for database in made:
        database.close()
        if not is_sqlite:
            cluster.drop(database.url.database)


@pytest.fixture
def empty_database(new_database: Callable[[], Database]) -> Database:
    """A database of either kind in which nothing is."""
    return new_database()


@dataclass(frozen=True)
class Reply:
    """What came back over HTTP."""

    status: int
    body: Any


class Server:
    """A running server, and a client with a token for it."""

    def __init__(self, url: str, token: str, pool: urllib3.PoolManager) -> None:
        self.url = url
        self.token = token
        self._pool = pool

    def call(self, method: str, path: str, body: Any = None) -> Reply:
        """Send one request."""
        answer = self._pool.request(
            method,
            f"{self.url}{path}",
            json=body,
            headers={"Authorization": f"Bearer {self.token}"},
            retries=False,
        )
        return Reply(answer.status, json.loads(answer.data))

    def get(self, path: str) -> Any:
        """Return the body of a GET that has to succeed."""
        reply = self.call("GET", path)
        assert reply.status == 200, reply.body
        return reply.body

    def post(self, path: str, body: Any) -> Any:
        """Return the body of a POST that has to succeed."""
        reply = self.call("POST", path, body)
        assert reply.status in {200, 201}, reply.body
        return reply.body


class Installation:
    """A fresh environment with a database and an empty folder to run in."""

    def __init__(self, folder: Path, *wanted: str | Path) -> None:
        self.folder = folder
        self.database_file = folder / "workshop.sqlite3"
        self.python = folder / "environment" / "bin" / "python"
        self._empty = folder / "empty"
        self._empty.mkdir(parents=True)
        venv.create(folder / "environment", symlinks=True)
        self.pip("install", *map(str, wanted))

    def pip(self, *arguments: str) -> None:
        """Run pip on this environment."""
        subprocess.run([*PIP, "--python", str(self.python), *arguments], check=True)

    def environment(self, **more: str) -> dict[str, str]:
        """Return the variables of a user who has nothing set."""
        kept = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("SPAREWELL_", "PYTHON", "COV_", "PYTEST"))
        }
        url = f"sqlite:///{self.database_file}"
        return {**kept, "HOME": str(self._empty), "SPAREWELL_DATABASE_URL": url, **more}

    def command(self, *arguments: str) -> list[str]:
        """Return the installed program's command line."""
        return [str(self.python.with_name("sparewell")), *arguments]

    def run(self, *arguments: str, status: int = 0, **environment: str) -> str:
        """Run the installed program from the empty folder; return what it printed."""
        done = subprocess.run(
            self.command(*arguments),
            cwd=self._empty,
            env=self.environment(**environment),
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert done.returncode == status, done.stdout + done.stderr
        assert list(self._empty.iterdir()) == [], "it left something where it was run"
        return done.stdout

    def new_token(self, name: str) -> str:
        """Return a new token."""
        return self.run("token", "new", name, "--scope", "admin").splitlines()[-1]

    @contextmanager
    def serve(self) -> Iterator[Server]:
        """Serve on a free port for as long as the block runs; the end has to be orderly."""
        token = self.new_token(f"token-{os.urandom(4).hex()}")
        log = self.folder / "server.log"
        with (
            log.open("w") as errors,
            urllib3.PoolManager() as pool,
            subprocess.Popen(
                self.command("serve", "--host", "127.0.0.1", "--port", "0"),
                cwd=self._empty,
                env=self.environment(),
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            ) as process,
        ):
            try:
                line = process.stdout.readline()
                found = re.search(r"http://127\.0\.0\.1:[0-9]+", line)
                assert found, f"no address in {line!r}; {log.read_text()}"
                yield Server(found.group(), token, pool)
            finally:
                process.terminate()
                ended_with = process.wait(timeout=30)
        assert ended_with == 0, log.read_text()


@pytest.fixture(scope="session")
def project() -> dict[str, Any]:
    """The `[project]` table of pyproject.toml."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        return dict(tomllib.load(file)["project"])


@pytest.fixture(scope="session")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of Sparewell, built by pip in isolation."""
    return build_wheel(ROOT, tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="session")
def plugin_wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of the out-of-tree plugin."""
    return build_wheel(OUT_OF_TREE, tmp_path_factory.mktemp("plugin"))


def build_wheel(project: Path, folder: Path) -> Path:
    """Build the wheel of a project into a folder and return it."""
    subprocess.run([*PIP, "wheel", str(project), "--no-deps", "-w", str(folder)], check=True)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="session", params=["newest", "lowest"])
def pins(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """What pip is told of the dependencies: nothing, or the lowest versions that are allowed."""
    if request.param == "newest":
        return []
    file = tmp_path_factory.mktemp("pins") / "lowest.txt"
    # A constraint of pip has no hash here: the wheels themselves come without one.
    pinned = re.findall(r"^[a-z0-9._-]+==[^ ]+", LOWEST.read_text(), re.MULTILINE)
    file.write_text("\n".join(pinned))
    return ["--constraint", str(file)]


@pytest.fixture(scope="session")
def installation(
    tmp_path_factory: pytest.TempPathFactory, wheel: Path, plugin_wheel: Path, pins: list[str]
) -> Installation:
    """Sparewell and the out-of-tree plugin as a user has them; nothing is migrated yet."""
    return Installation(tmp_path_factory.mktemp("with_plugin"), *pins, wheel, plugin_wheel)


@pytest.fixture(scope="session")
def migration_output(installation: Installation) -> str:
    """What `sparewell migrate` said on the empty database."""
    return installation.run("migrate")


@pytest.fixture(scope="session")
def server(installation: Installation, migration_output: str) -> Iterator[Server]:
    """The installed server with the plugin, running."""
    assert migration_output
    with installation.serve() as running:
        yield running


@pytest.fixture(scope="session")
def bush_lot(server: Server, installation: Installation) -> dict[str, Any]:
    """A lot of the plugin's kind in drawer A3, with a row of the plugin's table about it."""
    server.post("/v1/drawers", {"code": "A3"})
    server.post("/v1/drawers", {"code": "B1"})
    part = {
        "number": "BUSH-16",
        "kind": "bushing",
        "name": "brass bush 1.6",
        "material": "brass",
        "counted_by": "piece",
        "dimensions": {"outside_diameter": "1.62 mm", "inside_diameter": "1.03 mm"},
    }
    server.post("/v1/parts", part)
    lot = {
        "part": "BUSH-16",
        "drawer": "A3",
        "quantity": 5,
        "measured": {"outside_diameter": "1.625 mm", "inside_diameter": "1.04 mm"},
    }
    made = server.post("/v1/lots", lot)
    with closing(sqlite3.connect(installation.database_file)) as connection, connection:
        connection.execute(
            "INSERT INTO bushings_turning (lot_id, stock, turned_on) VALUES (?, ?, ?)",
            (made["id"], "3 mm brass bar", "2026-05-04"),
        )
    return dict(made)


@pytest.fixture(scope="session")
def installation_without_plugin(
    tmp_path_factory: pytest.TempPathFactory,
    wheel: Path,
    plugin_wheel: Path,
    pins: list[str],
    installation: Installation,
    bush_lot: dict[str, Any],
) -> Installation:
    """An installation from which the plugin was taken away, with the database it was used on."""
    bare = Installation(tmp_path_factory.mktemp("without_plugin"), *pins, wheel, plugin_wheel)
    bare.pip("uninstall", "--yes", "sparewell-bushings")
    assert bush_lot
    with (
        closing(sqlite3.connect(installation.database_file)) as used,
        closing(sqlite3.connect(bare.database_file)) as copy,
    ):
        used.backup(copy)
    return bare


@pytest.fixture(scope="session")
def server_without_plugin(installation_without_plugin: Installation) -> Iterator[Server]:
    """The installed server without the plugin, running on the database of both."""
    with installation_without_plugin.serve() as running:
        yield running
