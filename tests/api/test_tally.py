"""What the log says of where a request's time went."""

from __future__ import annotations

import logging
import threading
from pathlib import Path
from typing import Any

import pytest

from sparewell.database.engine import open_database
from sparewell.database.transaction import write
from sparewell.tally import Spent, tallied
from support.api import BODY, Api


def told(caplog: pytest.LogCaptureFixture) -> dict[str, Any]:
    """Return the fields of the last request's line."""
    lines = [record for record in caplog.records if record.name == "sparewell.requests"]
    fields: dict[str, Any] = vars(lines[-1])["fields"]
    return fields


@pytest.mark.differs
def test_each_request_says_where_its_time_went(api: Api, caplog: pytest.LogCaptureFixture) -> None:
    """A fit has statements and time in the database and in plugins, a list none in plugins."""
    caplog.set_level(logging.INFO, "sparewell.requests")
    api.stock()
    assert api.post("/v1/fits/sac", BODY).status == 200
    fit = told(caplog)
    assert api.get("/v1/lots").status == 200
    listed = told(caplog)
    assert fit["statements"] > listed["statements"] > 0
    assert 0 < fit["database_milliseconds"] < fit["milliseconds"]
    assert 0 < fit["plugins_milliseconds"] < fit["milliseconds"]
    assert listed["plugins_milliseconds"] == 0
    assert (fit["lock_milliseconds"], listed["lock_milliseconds"]) == (0, 0)


def test_a_writer_says_how_long_it_waited_for_another(tmp_path: Path) -> None:
    """Who comes while another writer is at work has waited for as long as that one took."""
    database = open_database(f"sqlite:///{tmp_path / 'workshop.sqlite3'}")
    begun, may_end = threading.Event(), threading.Event()

    def hold(_session: object) -> None:
        begun.set()
        may_end.wait(10)

    holder = threading.Thread(target=write, args=(database, hold))
    holder.start()
    begun.wait(10)
    threading.Timer(0.1, may_end.set).start()
    with tallied() as tally:
        write(database, lambda _session: None)
    holder.join()
    database.close()
    assert 0.05 < tally.seconds[Spent.LOCK] < 10
