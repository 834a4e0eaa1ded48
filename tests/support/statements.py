"""Counting the statements that are sent, and noting calculators that run while others wait."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from flask import has_request_context, request
from sqlalchemy import event

from sparewell.database import transaction
from sparewell.database.engine import Database
from sparewell.extend.calculation import Run


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    """Note each statement that is sent meanwhile."""
    sent: list[str] = []
    with _listening(database, sent.append):
        yield sent


@contextmanager
def counted_apart(database: Database) -> Iterator[tuple[list[str], list[str]]]:
    """Note each statement that is sent meanwhile: those that only read, and those of a writer."""
    reading: list[str] = []
    writing: list[str] = []
    with noted_writes() as is_writing:

        def note(sent: str) -> None:
            (writing if is_writing() else reading).append(sent)

        with _listening(database, note):
            yield reading, writing


@contextmanager
def _listening(database: Database, note: Callable[[str], None]) -> Iterator[None]:
    def listen(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        if not statement.startswith("BEGIN"):
            note(statement)

    event.listen(database.engine, "before_cursor_execute", listen)
    try:
        yield
    finally:
        event.remove(database.engine, "before_cursor_execute", listen)


@contextmanager
def noted_writes() -> Iterator[Callable[[], bool]]:
    """Give what tells whether a write transaction is open in this thread."""
    here = threading.local()
    once = transaction._once

    def noted(*arguments: Any) -> Any:
        here.is_writing = True
        try:
            return once(*arguments)
        finally:
            here.is_writing = False

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(transaction, "_once", noted)
        yield lambda: getattr(here, "is_writing", False)


@contextmanager
def calculators_watched() -> Iterator[list[str]]:
    """Note each request in which a calculator runs while the write transaction is open."""
    noted: list[str] = []
    guarded = Run._guarded
    with noted_writes() as is_writing, pytest.MonkeyPatch.context() as patched:

        def watched(run: Run, part: str, action: Callable[[], Any]) -> Any:
            if is_writing() and has_request_context():
                name = run.calculator.name
                noted.append(f"{request.method} {request.path}: {part} of {name}")
            return guarded(run, part, action)

        patched.setattr(Run, "_guarded", watched)
        yield noted
