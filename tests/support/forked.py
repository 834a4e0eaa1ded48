"""Runs of the command line, each in a process of its own, forked from one that has imported it.

Most of the time a short command takes is spent importing; a test that looks at that, or at how a
program starts and ends, starts the installed program itself.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sparewell.cli.main import COMMANDS, main
from sparewell.extend.host import installed_entry_points

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(
    [
        *(f"sparewell.cli.{place.module}" for place in COMMANDS.values()),
        *(point.module for point in installed_entry_points()),
        "sparewell.app.factory",
        "sparewell.app.server",
    ]
)


@dataclass(frozen=True)
class Ran:
    """A command that has ended."""

    status: int
    out: str
    err: str


class ForkedProcess:
    """A program that runs, spoken to as :class:`subprocess.Popen` is."""

    def __init__(
        self, arguments: Sequence[str], environment: Mapping[str, str], out: Path, err: Path
    ) -> None:
        self._process = _CONTEXT.Process(
            target=_run, args=(list(arguments), dict(environment), str(Path.cwd()), out, err)
        )
        self._process.start()

    @property
    def pid(self) -> int:
        """The number of the process."""
        number = self._process.pid
        assert number is not None
        return number

    def poll(self) -> int | None:
        """Return the exit status, or None while it runs."""
        return self._process.exitcode

    def wait(self, patience_seconds: float) -> int:
        """Wait for the end and return the exit status."""
        self._process.join(patience_seconds)
        status = self.poll()
        if status is None:
            raise AssertionError(f"process {self.pid} still runs after {patience_seconds} s")
        return status

    def send_signal(self, number: int) -> None:
        """Send a signal."""
        os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self._process.terminate()

    def kill(self) -> None:
        """End it."""
        self._process.kill()
        self._process.join()


def run_forked(
    arguments: Sequence[str], environment: Mapping[str, str], patience_seconds: float
) -> Ran:
    """Run a command to its end."""
    with tempfile.TemporaryDirectory() as folder:
        out, err = Path(folder) / "out", Path(folder) / "err"
        process = ForkedProcess(arguments, environment, out, err)
        try:
            status = process.wait(patience_seconds)
        finally:
            process.kill()
        return Ran(status, out.read_text(), err.read_text())


def _run(
    arguments: list[str], environment: dict[str, str], folder: str, out: Path, err: Path
) -> None:
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    time.tzset()
    for number, stream in ((1, out), (2, err)):
        with stream.open("wb") as file:
            os.dup2(file.fileno(), number)
    # What runs in the background of a shell may ignore Ctrl-C, and hands that on.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    sys.argv = ["sparewell", *arguments]
    main()
