"""Workbooks that claim more than anybody has: refused, quickly, and nothing of them stays."""

from __future__ import annotations

import os
import re
import time
from pathlib import Path
from urllib.parse import urlencode

import pytest
import urllib3

from sparewell.database.engine import open_database
from sparewell.database.transaction import Busy, write
from sparewell.edge.context import utc_now
from sparewell.edge.tokens import new_token
from sparewell.errors import Impossible
from sparewell.imports import apart, workbook_child
from sparewell.imports.sheets import read_sheet
from support.hostile_workbooks import hostile_workbooks, with_rows
from support.server_process import served

pytestmark = pytest.mark.rest

SECONDS = 15
GROWTH_BYTES = 40 * 1024 * 1024
CSV_BOMBS = {
    "cells": b"1," * 150 + b"\n",
    "one row over many lines": b'"\n",' * 1_000_000,
    "one line": b"," * 5_000_000,
}


def resident_bytes(process: int) -> int:
    """Return the memory of a process."""
    status = Path(f"/proc/{process}/status").read_text()
    found = re.search(r"VmRSS:\s+(\d+) kB", status)
    assert found is not None
    return int(found[1]) * 1024


def test_no_workbook_harms_the_service(database_url: str, tmp_path: Path) -> None:
    """Each is a 422 within seconds; the service goes on, and its memory is what it was."""
    database = open_database(database_url)
    token = write(database, lambda session: new_token(session, "bench", "admin", utc_now()))
    database.close()
    with served(database_url, tmp_path) as server:

        def send(content: bytes) -> tuple[int, float]:
            began = time.monotonic()
            answer = urllib3.request(
                "POST",
                f"{server.address}/v1/imports?{urlencode({'of': 'lots', 'name': 'x.xlsx'})}",
                body=content,
                headers={
                    "Authorization": f"Bearer {token}",
                    "Content-Type": "application/vnd.openxmlformats-officedocument."
                    "spreadsheetml.sheet",
                },
                retries=False,
                timeout=60,
            )
            return answer.status, time.monotonic() - began

        assert send(with_rows(""))[0] in {201, 422}
        before = resident_bytes(server.process_id)
        for name, content in hostile_workbooks().items():
            status, seconds = send(content)
            assert (name, status) == (name, 422)
            assert seconds < SECONDS, (name, seconds)
            assert resident_bytes(server.process_id) - before < GROWTH_BYTES, name
        live = urllib3.request("GET", f"{server.address}/health/live", retries=False)
        assert live.status == 200


@pytest.mark.parametrize("name", CSV_BOMBS)
def test_a_text_has_the_same_bounds(name: str) -> None:
    """Too many cells, or a row without an end, is refused before all of it is kept."""
    content = CSV_BOMBS[name] * (20_000 if name == "cells" else 1)
    began = time.monotonic()
    with pytest.raises(Impossible, match="more than"):
        read_sheet(content, None, lambda _: 0)
    assert time.monotonic() - began < SECONDS


@pytest.mark.parametrize(
    ("limit", "value"), [("MEMORY_BYTES", 64 * 1024**2), ("PROCESSOR_SECONDS", 1)]
)
def test_a_process_that_dies_is_a_refusal(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, limit: str, value: int
) -> None:
    """Whatever the process dies of, the file is refused with a sentence that says so."""
    text = (
        "import sys; from sparewell.imports import workbook_child as child; "
        f"child.{limit} = {value}; child.main()"
    )
    (tmp_path / "dies_early.py").write_text(text)
    monkeypatch.setenv("PYTHONPATH", os.fspath(tmp_path))
    monkeypatch.setattr(apart, "_CHILD", "dies_early")
    rows = "".join(f"<row>{'<c><v>1</v></c>' * 10}</row>" for _ in range(150_000))
    with pytest.raises(Impossible, match="could not be opened with"):
        read_sheet(with_rows(rows), None, lambda _: 0)


def test_only_so_many_are_opened_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """While all places are taken the next one is told to come again."""
    monkeypatch.setattr(apart, "_PATIENCE_SECONDS", 0.05)
    for _ in range(apart.MOST_AT_ONCE):
        assert apart._places.acquire(blocking=False)
    try:
        with pytest.raises(Busy):
            read_sheet(with_rows(""), None, lambda _: 0)
    finally:
        for _ in range(apart.MOST_AT_ONCE):
            apart._places.release()
    assert workbook_child.MEMORY_BYTES < 1024**3
