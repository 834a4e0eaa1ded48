"""A throw-away PostgreSQL cluster, started by the tests themselves, as root or not."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

ACCOUNT = "postgres"
SUPERUSER = "sparewell_test"


class Cluster:
    """A running server; `create` makes a database and returns its address."""

    def __init__(self, socket_folder: Path, binaries: Path, data: Path) -> None:
        self._socket_folder = socket_folder
        self._binaries = binaries
        self._data = data
        self._made = 0

    def create(self, name: str = "", template: str | None = None) -> str:
        """Make a database, empty or as a copy of another; return its name."""
        self._made += 1
        name = name or f"test_{self._made}"
        copy = f" TEMPLATE {template}" if template else ""
        self._execute(f"CREATE DATABASE {name}{copy}")
        return name

    def drop(self, name: str) -> None:
        """Take a database away, whoever is still connected."""
        self._execute(f"DROP DATABASE {name} WITH (FORCE)")

    def url(self, name: str) -> str:
        """Return the address of a database."""
        return f"postgresql+psycopg://{SUPERUSER}@/{name}?host={self._socket_folder}"

    def restart_at_once(self) -> None:
        """Stop the server as a crash would, and start it again."""
        control(self._binaries, self._data, "-m", "immediate", "-w", "restart")

    def _execute(self, statement: str) -> None:
        address = f"host={self._socket_folder} user={SUPERUSER} dbname=postgres"
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(statement)  # type: ignore[call-overload]


def binaries() -> Path | None:
    """Return the folder of the server binaries, or None where there are none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True)
    if found:
        return found[0].parent
    on_path = shutil.which("initdb")
    return Path(on_path).resolve().parent if on_path else None


@contextmanager
def cluster(found: Path, *, durable: bool = False, parent: Path | None = None) -> Iterator[Cluster]:
    """Run a cluster in a temporary folder. Without `durable` it does not wait for the disk.

    In a parent folder of the caller's it takes as little room as it can.
    """
    folder = Path(tempfile.mkdtemp(prefix="sparewell-pg-", dir=parent))
    try:
        data = folder / "data"
        if os.geteuid() == 0:
            shutil.chown(folder, ACCOUNT, ACCOUNT)
        run(
            found / "initdb",
            *("-D", data, "-U", SUPERUSER, "--auth=trust", "--no-sync", "--encoding=UTF8"),
            *(["--wal-segsize=1"] if parent else []),
        )
        sync = "on" if durable else "off"
        options = f"-k {folder} -c listen_addresses='' -c fsync={sync} -c max_connections=200"
        if parent:
            options += " -c max_wal_size=8MB -c min_wal_size=2MB"
        control(found, data, "-w", "-o", options, "-l", str(folder / "log"), "start")
        try:
            yield Cluster(folder, found, data)
        finally:
            control(found, data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def control(found: Path, data: Path, *arguments: str) -> None:
    """Call pg_ctl."""
    run(found / "pg_ctl", "-D", data, *arguments)


def run(*command: object) -> None:
    """Run a server binary; as root, under the account that PostgreSQL insists on."""
    prefix: list[str] = []
    if os.geteuid() == 0:
        prefix = [
            "setpriv",
            f"--reuid={ACCOUNT}",
            f"--regid={ACCOUNT}",
            "--clear-groups",
            "--",
        ]
    subprocess.run(
        [*prefix, *map(str, command)],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.STDOUT,
        cwd="/",
        env={**os.environ, "LC_ALL": "C.UTF-8"},
    )
