"""The demo workshop, loaded once: a file to be looked at, or to be copied."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from sparewell.app.owners import owners_of_tables
from sparewell.database import migrate
from sparewell.database.engine import open_database
from sparewell.extend.host import Declarations
from sparewell_demo_seed.loader import Workshop, load_workshop

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Demo:
    """Where the file is, what the loader said of it, and how it told its progress."""

    file: Path
    workshop: Workshop
    progress: list[tuple[int, int, str]]

    @property
    def url(self) -> str:
        """The address of the file itself; who writes takes a copy."""
        return f"sqlite:///{self.file}"


def make_demo(folder: Path, declared: Declarations) -> None:
    """Load the demo workshop as of NOW."""
    database = open_database(f"sqlite:///{folder / 'demo.sqlite3'}")
    migrate.upgrade(database, owners_of_tables(declared))
    told: list[tuple[int, int, str]] = []
    workshop = load_workshop(database, declared, NOW, progress=lambda *report: told.append(report))
    database.close()
    (folder / "told.json").write_text(json.dumps([asdict(workshop), told]))


def read_demo(folder: Path) -> Demo:
    """Return what was loaded into a folder."""
    workshop, told = json.loads((folder / "told.json").read_text())
    return Demo(folder / "demo.sqlite3", Workshop(**workshop), [tuple(each) for each in told])
