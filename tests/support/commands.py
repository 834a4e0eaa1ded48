"""The command line in this process, or in one that ends itself at a chosen place."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from sparewell.cli.main import group

END_STATUS = 9
PATIENCE_SECONDS = 60

END_AT = f"""
import os, signal, sys
from sparewell.database import faults
from sparewell.cli.main import group
signal.signal(signal.SIGHUP, signal.SIG_DFL)  # whoever runs the tests may have it ignored
number = int(sys.argv[2])
end = (lambda: os.kill(os.getpid(), number)) if number else (lambda: os._exit({END_STATUS}))
faults.arm(sys.argv[1], end)
group(sys.argv[3:], prog_name="sparewell")
"""


@dataclass(frozen=True)
class Ended:
    """How a command ended, and what it said on either stream."""

    status: int
    said: str


def environment(database_url: str) -> dict[str, str]:
    """Return an environment that names the database and nothing else of ours."""
    inherited = {name: text for name, text in os.environ.items() if "SPAREWELL_" not in name}
    return {**inherited, "SPAREWELL_DATABASE_URL": database_url}


def run(database_url: str, *arguments: str | Path) -> Ended:
    """Run a command in this process."""
    changes = {name: None for name in os.environ if "SPAREWELL_" in name}
    found = CliRunner().invoke(
        group,
        [str(argument) for argument in arguments],
        env={**changes, "SPAREWELL_DATABASE_URL": database_url},
        prog_name="sparewell",
    )
    assert found.exception is None or isinstance(found.exception, SystemExit), found.exception
    return Ended(found.exit_code, found.output)


def run_and_end_at(
    place: str, database_url: str, *arguments: str | Path, by_signal: int = 0
) -> int:
    """Run a command in a process that ends without a word at a place; return its status.

    With a signal it is asked to end there, and may clear up.
    """
    return subprocess.run(
        [sys.executable, "-c", END_AT, place, str(by_signal), *map(str, arguments)],
        env=environment(database_url),
        capture_output=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    ).returncode


def partial_files(folder: Path) -> list[Path]:
    """Return what a command left half done in a folder."""
    return sorted(folder.glob(".sparewell-*"))
