"""The log: one JSON object a line on standard error, without secrets, and never in anybody's way.

Lines are written by a thread of their own. Whoever reads them may be slow, or not read at all: then
lines are dropped and counted, and the service goes on.
"""

from __future__ import annotations

import json
import logging
import queue
import re
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any, Final, TextIO

MOST_WAITING: Final = 10_000
_FLUSH_SECONDS = 2.0
# Tokens, and passwords in database addresses, wherever a text may carry one.
_SECRETS = re.compile(r"(spare-)[\w-]{20,}|(://[^:/@\s]*:)[^@\s]+(?=@)|(?i:(bearer )\S+)")
_QUIET = {"waitress.queue": logging.ERROR}  # a queue of requests is what threads are for


class JSONLines(logging.Formatter):
    """Writes a record as one JSON object."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line, what looks like a secret struck out."""
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "by": record.name,
            "process": record.process,
            "says": record.getMessage(),
            **{
                name: value
                for name, value in getattr(record, "fields", {}).items()
                if value is not None
            },
        }
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return without_secrets(json.dumps(line, ensure_ascii=False, default=str))


def without_secrets(text: str) -> str:
    """Strike out tokens and passwords."""
    return _SECRETS.sub(lambda found: f"{found[1] or found[2] or found[3]}***", text)


class _Writer(logging.Handler):
    """Hands records to a thread that writes them; drops them when too many are waiting."""

    def __init__(self, stream: TextIO) -> None:
        super().__init__()
        self._stream = stream
        self._waiting: queue.Queue[str | None] = queue.Queue(MOST_WAITING)
        self._dropped = 0
        self._thread = threading.Thread(target=self._run, name="sparewell-log", daemon=True)
        self._thread.start()

    def emit(self, record: logging.LogRecord) -> None:
        """Queue a record."""
        try:
            self._waiting.put_nowait(self.format(record))
        except queue.Full:
            self._dropped += 1

    def finish(self) -> None:
        """Write what is waiting, but wait for a reader only so long."""
        try:
            self._waiting.put(None, timeout=_FLUSH_SECONDS)
        except queue.Full:
            return
        self._thread.join(_FLUSH_SECONDS)

    def _run(self) -> None:
        while (line := self._waiting.get()) is not None:
            dropped, self._dropped = self._dropped, 0
            note = json.dumps({"says": "lines were dropped", "dropped": dropped}) + "\n"
            try:
                self._stream.write((note if dropped else "") + line + "\n")
                self._stream.flush()
            except (OSError, ValueError):
                return  # nobody can be told any more


@contextmanager
def kept_log(level: str, stream: TextIO | None = None) -> Iterator[None]:
    """Keep the log from a level on, for as long as the block lasts."""
    writer = _Writer(stream or sys.stderr)
    writer.setFormatter(JSONLines())
    root = logging.getLogger()
    before = root.level
    root.addHandler(writer)
    root.setLevel(level.upper())
    for name, quiet_level in _QUIET.items():
        logging.getLogger(name).setLevel(quiet_level)
    try:
        yield
    finally:
        root.removeHandler(writer)
        root.setLevel(before)
        writer.finish()
