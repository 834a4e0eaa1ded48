"""Opening a workbook in a process of its own, with limits on memory, processor and time.

What takes a stranger's file apart may take gigabytes, or abort the process that it runs in. So that
is another process, started when it is wanted; whatever becomes of it, the service goes on and keeps
none of its memory. The file goes in on standard input; out comes one line of JSON for what was
found, and one for each row.
"""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from sparewell.configuration import PREFIX
from sparewell.database.transaction import Busy
from sparewell.errors import Impossible
from sparewell.imports.workbook import Rows
from sparewell.imports.workbook_child import MEMORY_BYTES, PROCESSOR_SECONDS

CLOCK_SECONDS = 40.0


# Each holds a thread of the server and, at worst, its memory.
MOST_AT_ONCE = 2


_PATIENCE_SECONDS = 5.0
_CHILD = "sparewell.imports.workbook_child"
_TOO_MUCH = (
    f"the workbook could not be opened with {MEMORY_BYTES // 1024**2} MiB of memory and "
    f"{PROCESSOR_SECONDS} s; save the sheet as .csv, or send it in several files"
)
_places = threading.BoundedSemaphore(MOST_AT_ONCE)


def read_apart(content: bytes, sheet: str | None) -> tuple[Rows, list[str]]:
    """Return the rows of a workbook's sheet, and notices.

    Raises :class:`Impossible`, and :class:`Busy` while others are being opened.
    """
    if importlib.util.find_spec("python_calamine") is None:
        raise Impossible.at(
            "",
            "workbooks are read with the extra xlsx, which is not installed where the server "
            "runs: pip install 'sparewell[xlsx]'; or save the sheet as .csv",
        )
    if not _places.acquire(timeout=_PATIENCE_SECONDS):
        raise Busy
    try:
        with _child(sheet) as child:
            return _conversed(child, content)
    finally:
        _places.release()


@contextmanager
def _child(sheet: str | None) -> Iterator[subprocess.Popen[bytes]]:
    """Start the process, and see to its end, whatever happens."""
    arguments = [] if sheet is None else [sheet]
    # It needs no setting of ours, and must not learn the password of a database.
    environment = {name: text for name, text in os.environ.items() if not name.startswith(PREFIX)}
    try:
        child = subprocess.Popen(  # noqa: S603 - our own module
            [sys.executable, "-P", "-m", _CHILD, *arguments],
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
    except OSError as error:
        raise Busy from error
    end = threading.Timer(CLOCK_SECONDS, child.kill)
    end.daemon = True
    end.start()
    try:
        yield child
    finally:
        end.cancel()
        child.kill()
        for stream in (child.stdin, child.stdout):
            if stream is not None:
                with suppress(OSError):
                    stream.close()
        child.wait()


def _conversed(child: subprocess.Popen[bytes], content: bytes) -> tuple[Rows, list[str]]:
    if child.stdin is None or child.stdout is None:
        raise AssertionError("both were asked for")
    with suppress(BrokenPipeError):  # it died; what it said is looked at all the same
        child.stdin.write(content)
        child.stdin.close()
    try:
        found = json.loads(child.stdout.readline())
        if "problem" in found:
            raise Impossible.at(*found["problem"])
        rows = [json.loads(line) for line in child.stdout]
    except ValueError as error:
        raise Impossible.at("", _TOO_MUCH) from error
    if child.wait() != 0 or len(rows) != found["rows"]:
        raise Impossible.at("", _TOO_MUCH)
    return rows, found["notices"]
