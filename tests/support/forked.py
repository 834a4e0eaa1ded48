"""Runs of the command line, each in a process of its own, forked from one that has imported it.

Most of the time a short command takes is spent importing; a test that looks at that, or at how a
program starts and ends, starts the installed program itself.
"""

from __future__ import annotations

import multiprocessing
import os
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


def run_forked(
    arguments: Sequence[str], environment: Mapping[str, str], patience_seconds: float
) -> Ran:
    """Run a command to its end."""
    with tempfile.TemporaryDirectory() as folder:
        streams = [Path(folder) / name for name in ("out", "err")]
        process = _CONTEXT.Process(
            target=_run, args=(list(arguments), dict(environment), str(Path.cwd()), streams)
        )
        process.start()
        process.join(patience_seconds)
        if process.exitcode is None:
            process.kill()
            process.join()
            raise AssertionError(f"not done after {patience_seconds} s: {arguments}")
        out, err = (stream.read_text() for stream in streams)
        return Ran(process.exitcode, out, err)


def _run(
    arguments: list[str], environment: dict[str, str], folder: str, streams: list[Path]
) -> None:
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    for number, stream in enumerate(streams, 1):
        with stream.open("wb") as file:
            os.dup2(file.fileno(), number)
    time.tzset()
    sys.argv = ["sparewell", *arguments]
    main()
