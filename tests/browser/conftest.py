"""A browser and a workshop: Debian's Chromium against `sparewell serve` with the demo's drawers."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sparewell.app.owners import owners_of_tables
from sparewell.database.engine import open_database
from sparewell.database.migrate import upgrade
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from sparewell_demo_seed.loader import load_workshop
from support.browsing import Workshop
from support.server_process import served

playwright = pytest.importorskip("playwright.sync_api", reason="pip install -e '.[browser]'")

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def chromium() -> Iterator[playwright.Browser]:
    """The browser; on a desk without one the tests are left out, in CI that is a failure."""
    found = next(filter(None, map(shutil.which, PROGRAMS)), None)
    if found is None:
        assert os.environ.get("CI") != "true", "CI has no browser"
        pytest.skip("no Chromium here")
    with playwright.sync_playwright() as driver:
        launched = driver.chromium.launch(
            executable_path=found, args=["--no-sandbox"] if os.getuid() == 0 else []
        )
        yield launched
        launched.close()


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory, declared: Declarations) -> tuple[Path, str]:
    """An SQLite file with the demo's workshop in it, to be copied, and a token for it."""
    path = tmp_path_factory.mktemp("furnished") / "workshop.sqlite3"
    database = open_database(f"sqlite:///{path}")
    upgrade(database, owners_of_tables(declared))
    now = datetime.now(UTC)
    load_workshop(database, declared, now)
    token = write(database, lambda session: new_token(session, "bench", "write", now))
    database.close()
    return path, token


@pytest.fixture
def workshop(furnished: tuple[Path, str], tmp_path: Path) -> Iterator[Workshop]:
    """A workshop of its own for each test, open for visitors."""
    template, token = furnished
    path = tmp_path / "workshop.sqlite3"
    shutil.copy(template, path)
    with served(f"sqlite:///{path}", tmp_path) as server:
        yield Workshop(server.address, token)
