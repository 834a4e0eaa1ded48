"""`sparewell serve` as a real process, started, killed and started again."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import sysconfig
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
SPAREWELL = Path(sysconfig.get_path("scripts")) / "sparewell"
PATIENCE_SECONDS = 60.0
_LOOK_SECONDS = 0.01


class ServerProcess:
    """One server on one database; it keeps its port through every start."""

    def __init__(
        self, database_url: str, folder: Path, *, workers: int = 1, bug: str | None = None
    ) -> None:
        self._program = (
            [str(SPAREWELL)] if bug is None else [sys.executable, "-m", "support.seeded_bugs", bug]
        )
        self._workers = workers
        self._environment = environment(database_url)
        self._out_file, self._log_file = folder / "server.out", folder / "server.err"
        self._process: subprocess.Popen[bytes] | None = None
        self.address = ""

    def start(self) -> float:
        """Start it, wait until it says where it listens, and return how long that took."""
        began = time.monotonic()
        port = self.address.rsplit(":", 1)[1] if self.address else "0"
        command = [*self._program, "serve", "--port", port]
        if self._workers > 1:
            command += ["--workers", str(self._workers)]
        with self._out_file.open("wb") as out, self._log_file.open("ab") as log:
            self._process = subprocess.Popen(
                command, env=self._environment, stdout=out, stderr=log, cwd=TESTS
            )
        while time.monotonic() < began + PATIENCE_SECONDS:
            found = re.search(r"listens on (http://\S+)", self._out_file.read_text())
            if found:
                self.address = found[1]
                return time.monotonic() - began
            if self._process.poll() is not None:
                break
            time.sleep(_LOOK_SECONDS)
        raise AssertionError(f"the server does not listen: {self.log()}")

    def end(self, number: int = signal.SIGKILL) -> int:
        """Send it a signal, by default one that it cannot heed; return its exit status."""
        assert self._process is not None
        self._process.send_signal(number)
        return self._process.wait(PATIENCE_SECONDS)

    @property
    def process_id(self) -> int:
        """The process that was started."""
        assert self._process is not None
        return self._process.pid

    def workers(self) -> set[int]:
        """Return the processes that serve for it."""
        assert self._process is not None
        parent = self._process.pid
        children = Path(f"/proc/{parent}/task/{parent}/children").read_text()
        return {int(child) for child in children.split()}

    def log(self) -> str:
        """Return the end of what it wrote to standard error."""
        return self._log_file.read_text()[-3000:] if self._log_file.exists() else ""


@contextmanager
def served(
    database_url: str, folder: Path, *, workers: int = 1, bug: str | None = None
) -> Iterator[ServerProcess]:
    """Give a server that listens; at the end it has to stop in an orderly way."""
    server = ServerProcess(database_url, folder, workers=workers, bug=bug)
    server.start()
    try:
        yield server
    except BaseException:
        server.end()
        raise
    assert server.end(signal.SIGTERM) == 0, server.log()


def environment(database_url: str) -> dict[str, str]:
    """Return the environment of a process, free of whatever the tests run under."""
    inherited = {name: text for name, text in os.environ.items() if name[:10] != "SPAREWELL_"}
    return {**inherited, "SPAREWELL_DATABASE_URL": database_url, "PYTHONPATH": str(TESTS)}


def audit_verdict(database_url: str) -> list[str]:
    """Run `sparewell audit` beside whatever else runs; return what it holds against the ledger."""
    ended = subprocess.run(
        [SPAREWELL, "audit"],
        env=environment(database_url),
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )
    if ended.returncode == 0:
        return []
    return [f"sparewell audit ended with {ended.returncode}: {ended.stdout}{ended.stderr}"]
