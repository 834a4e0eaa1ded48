"""Real processes of the installed program, each on its own SQLite file."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import sysconfig
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import urllib3

from support.forked import ForkedProcess, Ran, run_forked

PROGRAM = Path(sysconfig.get_path("scripts")) / "sparewell"
PATIENCE_SECONDS = 60.0
BODY = {
    "barrel_bore": "8.0 mm",
    "bar_height": "0.9 mm",
    "nipple_diameter": "6.4 mm",
    "barrel_depth": "62 mm",
}


@dataclass
class Running:
    """A server that listens."""

    process: subprocess.Popen[bytes] | ForkedProcess
    url: str
    out_file: Path
    err_file: Path

    def out(self) -> str:
        """Return what it has printed so far."""
        return self.out_file.read_text()

    def end(self, number: int = signal.SIGTERM) -> int:
        """Send a signal and return the exit status."""
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_SECONDS)


@dataclass
class Workshop:
    """A folder with a database file, and an environment that names it."""

    folder: Path
    environment: dict[str, str] = field(default_factory=dict)
    started: int = 0
    program: Path = PROGRAM

    @property
    def database_file(self) -> Path:
        """The database."""
        return self.folder / "data" / "workshop.sqlite3"

    def environ(self, changes: Mapping[str, str]) -> dict[str, str]:
        """Return the environment of a command, free of whatever the tests run under."""
        inherited = {
            name: text for name, text in os.environ.items() if not name.startswith("SPAREWELL_")
        }
        address = f"sqlite:///{self.database_file}"
        own = {"SPAREWELL_DATABASE_URL": address, "COLUMNS": "100", "PYTHONWARNINGS": ""}
        return inherited | own | self.environment | dict(changes)

    def run(self, *arguments: str, **changes: str) -> Ran:
        """Run a command to its end."""
        return run_forked(arguments, self.environ(changes), PATIENCE_SECONDS)

    def python(self, *arguments: str, **changes: str) -> Ran:
        """Run this Python to its end."""
        ended = subprocess.run(
            [sys.executable, *arguments],
            env=self.environ(changes),
            capture_output=True,
            text=True,
            timeout=PATIENCE_SECONDS,
            check=False,
        )
        return Ran(ended.returncode, ended.stdout, ended.stderr)

    def _files(self) -> tuple[Path, Path]:
        """Return where the next server writes."""
        self.started += 1
        return self.folder / f"{self.started}.out", self.folder / f"{self.started}.err"

    @contextmanager
    def start(self, *command: str | Path, **changes: str) -> Iterator[Running]:
        """Start a server and wait until it says where it listens; it is gone afterwards."""
        out_file, err_file = self._files()
        with (
            out_file.open("wb") as out,
            err_file.open("wb") as err,
            # What runs in the background of a shell may ignore Ctrl-C, and hands that on.
            subprocess.Popen(
                command,
                env=self.environ(changes),
                stdout=out,
                stderr=err,
                preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509 - before it is anything else
            ) as process,
        ):
            try:
                yield Running(process, _wait_for(process, out_file, err_file), out_file, err_file)
            finally:
                if process.poll() is None:
                    process.kill()

    @contextmanager
    def serve(self, **changes: str) -> Iterator[Running]:
        """Serve on a free port."""
        out_file, err_file = self._files()
        for each in (out_file, err_file):
            each.touch()
        command = ("serve", "--port", "0")
        process = ForkedProcess(command, self.environ(changes), out_file, err_file)
        try:
            yield Running(process, _wait_for(process, out_file, err_file), out_file, err_file)
        finally:
            process.kill()


def _wait_for(
    process: subprocess.Popen[bytes] | ForkedProcess, out_file: Path, err_file: Path
) -> str:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < deadline:
        found = re.search(r"listens on (http://\S+)", out_file.read_text())
        if found:
            return found[1]
        if process.poll() is not None:
            break
        time.sleep(0.02)
    raise AssertionError(f"it does not listen: {out_file.read_text()}{err_file.read_text()}")


@dataclass(frozen=True)
class Api:
    """A plain client, apart from ours."""

    url: str
    token: str

    def post(self, path: str, body: Mapping[str, Any]) -> Any:
        """Send a document; it has to be accepted."""
        return self._ask("POST", path, body)

    def get(self, path: str) -> Any:
        """Fetch a document; it has to be there."""
        return self._ask("GET", path, None)

    def _ask(self, method: str, path: str, body: Mapping[str, Any] | None) -> Any:
        response = urllib3.request(
            method,
            self.url + path,
            json=body,
            headers={"Authorization": f"Bearer {self.token}"},
            timeout=PATIENCE_SECONDS,
            retries=False,
        )
        assert response.status in {200, 201}, response.data
        return response.json()


@dataclass
class Bench:
    """A workshop that is served, a plain client of it, and its command line."""

    workshop: Any
    api: Any

    def run(self, *arguments: str, status: int = 0) -> str:
        """Run a command that has to end so; return what it said."""
        ran = self.workshop.run(*arguments)
        assert ran.status == status, (ran.out, ran.err)
        assert "Traceback" not in ran.err
        return str(ran.out if status == 0 else ran.out + ran.err)

    def json(self, *arguments: str, status: int = 0) -> Any:
        """Run a command with `--json`; return what it printed."""
        ran = self.workshop.run(*arguments, "--json")
        assert (ran.status, ran.err) == (status, ""), ran.err
        return json.loads(ran.out)

    def job(self) -> str:
        """Bring a pen and open a job on it."""
        pen = {"called": "olive lever pen", "filling_system": "lever", "readings": BODY}
        number = self.api.post("/v1/pens", pen)["number"]
        return str(self.api.post("/v1/jobs", {"pen": number})["number"])


@pytest.fixture(scope="session")
def make_workshop() -> type[Workshop]:
    """Give what makes a workshop of a folder, for those that several tests share."""
    return Workshop


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    """Give a folder without a database."""
    return Workshop(tmp_path)


@pytest.fixture(scope="session")
def tables(sqlite_template: Path) -> bytes:
    """A migrated file, which the tests start from a copy of."""
    return sqlite_template.read_bytes()


@pytest.fixture
def migrated(workshop: Workshop, tables: bytes) -> Workshop:
    """Give a folder with a database that is up to date and empty."""
    workshop.database_file.parent.mkdir()
    workshop.database_file.write_bytes(tables)
    workshop.database_file.chmod(0o600)
    return workshop


@pytest.fixture(scope="session")
def stocked(
    tmp_path_factory: pytest.TempPathFactory, tables: bytes
) -> Iterator[tuple[Workshop, Running]]:
    """Serve a workshop with one bag of ten sacs 15 in drawer A3, only to be read from."""
    workshop = Workshop(tmp_path_factory.mktemp("stocked"))
    workshop.database_file.parent.mkdir()
    workshop.database_file.write_bytes(tables)
    workshop.database_file.chmod(0o600)
    token = workshop.run("token", "new", "bench", "--scope", "write").out.strip()
    with workshop.serve() as running:
        workshop.environment |= {"SPAREWELL_URL": running.url, "SPAREWELL_TOKEN": token}
        fill_drawer(Api(running.url, token))
        yield workshop, running


@pytest.fixture
def filled(migrated: Workshop) -> Iterator[tuple[Workshop, Api]]:
    """Serve a workshop of the same bag, to be changed, and give a client of it."""
    token = migrated.run("token", "new", "bench", "--scope", "write").out.strip()
    with migrated.serve() as running:
        migrated.environment |= {"SPAREWELL_URL": running.url, "SPAREWELL_TOKEN": token}
        api = Api(running.url, token)
        fill_drawer(api)
        yield migrated, api


@pytest.fixture
def bench(filled: tuple[Any, Any]) -> Bench:
    """Serve ten sacs 15 in drawer A3."""
    return Bench(*filled)


def fill_drawer(api: Api) -> None:
    """Put ten sacs 15 into drawer A3."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post(
        "/v1/parts",
        {
            "number": "SAC-15-STR",
            "kind": "sac",
            "name": "straight sac 15",
            "material": "latex",
            "counted_by": "piece",
            "dimensions": {
                "outside_diameter": "15/64 in",
                "inside_diameter": "5.05 mm",
                "length": "75 mm",
            },
        },
    )
    api.post(
        "/v1/lots",
        {
            "part": "SAC-15-STR",
            "drawer": "A3",
            "quantity": 10,
            "measured": {"outside_diameter": "5.9 mm"},
        },
    )


@contextmanager
def shop_with_ten_sacs(folder: Path, tables: bytes) -> Iterator[tuple[Workshop, Api]]:
    """Serve a workshop with one bag of ten sacs; its commands know where it is served."""
    workshop = Workshop(folder)
    workshop.database_file.parent.mkdir(exist_ok=True)
    workshop.database_file.write_bytes(tables)
    workshop.database_file.chmod(0o600)
    token = workshop.run("token", "new", "bench", "--scope", "write").out.strip()
    with workshop.serve() as running:
        workshop.environment |= {"SPAREWELL_URL": running.url, "SPAREWELL_TOKEN": token}
        api = Api(running.url, token)
        fill_drawer(api)
        yield workshop, api
