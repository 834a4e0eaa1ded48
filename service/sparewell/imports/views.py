"""Bringing a notebook in over HTTP: send the file, look at what was found, correct, apply.

A file is checked before the transaction is opened, and once more before it is applied where the
check may not hold any more, so that nobody waits for the reckoning.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from flask import request
from sqlalchemy import select

from sparewell.configuration import IMPORT_LIMIT
from sparewell.database.transaction import Unavailable, locked, write
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.beforehand import beforehand, found_beforehand
from sparewell.edge.context import services, work
from sparewell.edge.paging import PageArguments, answer, each, page_of
from sparewell.edge.schema import Empty
from sparewell.errors import Conflict
from sparewell.imports import operations
from sparewell.imports.checking import CHECKING, Checked
from sparewell.imports.forms import Options, Progress
from sparewell.imports.schemas import (
    ChangedImportSchema,
    ImportArguments,
    ImportPageSchema,
    ImportProblemPageSchema,
    ImportSchema,
    NewImportArguments,
)
from sparewell.imports.tables import Import, ImportProblem
from sparewell.imports.targets import Target, targets_of
from sparewell.work import Work

MEDIA_TYPES = (
    "text/csv",
    "text/tab-separated-values",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
)
PROBLEMS_SHOWN = 100
SECONDS_BETWEEN_WORDS = 0.3


# Whoever has not said anything for so long is not at it any more.
PROGRESS_HOLDS = timedelta(seconds=30)


blueprint = Blueprint("imports", __name__, url_prefix="/v1")
_THIS = {"import_id": "$response.body#/id"}
_FROM_AN_IMPORT = {
    "read": Link("get", "/v1/imports/{import_id}", _THIS),
    "change": Link("patch", "/v1/imports/{import_id}", _THIS),
    "problems": Link("get", "/v1/imports/{import_id}/problems", _THIS),
    **{
        verb: Link("post", f"/v1/imports/{{import_id}}/{verb}", _THIS)
        for verb in ("check", "apply", "withdraw")
    },
}


@dataclass(frozen=True)
class ShownImport:
    """A file that is brought in, whether somebody is at it, and the first of its problems."""

    row: Import
    progress: Import | None
    problems: Sequence[ImportProblem] = ()
    fields_there_are: Collection[Target] = ()


def _summary(row: Import) -> ShownImport:
    is_told = row.progress_at is not None and work().now - row.progress_at < PROGRESS_HOLDS
    return ShownImport(row, row if is_told else None)


def _shown(row: Import) -> ShownImport:
    problems = (
        select(ImportProblem)
        .where(ImportProblem.import_id == row.id)
        .order_by(ImportProblem.id)
        .limit(PROBLEMS_SHOWN)
    )
    return replace(
        _summary(row),
        problems=work().session.scalars(problems).all(),
        fields_there_are=targets_of(row.of, work().declared).values(),
    )


def _teller(import_id: int, doing: str) -> Progress:
    """Return what writes down how far it is, for whoever looks; a busy database is left alone."""
    told_at = time.monotonic()

    def tell(_doing: str, done: int, of: int) -> None:
        nonlocal told_at
        if time.monotonic() - told_at < SECONDS_BETWEEN_WORDS:
            return
        with suppress(Unavailable):
            found = services()
            write(
                found.database,
                lambda session: operations.note_progress(
                    session, import_id, doing, done, of, found.clock()
                ),
            )
        told_at = time.monotonic()

    return tell


def _quiet(_doing: str, _done: int, _of: int) -> None:
    """Tell nobody: there is nothing yet to look at."""


def _checked_new(reading: Work) -> Checked | None:
    said = blueprint.ARGUMENTS_PARSER.parse(NewImportArguments, request, location="query")
    if said["check"] == "later":
        return None
    content = request.get_data(cache=True)
    return operations.check_content(reading, said["of"], content, Options(), _quiet)


@blueprint.route("/imports", methods=["POST"])
@blueprint.arguments(NewImportArguments, location="query")
@blueprint.raw_body(IMPORT_LIMIT, MEDIA_TYPES)
@blueprint.etag
@blueprint.response(201, ImportSchema, links=_FROM_AN_IMPORT)
@beforehand(_checked_new)
def add_import(arguments: dict[str, Any], body: bytes) -> Any:
    """Send a file of a notebook; nothing of it counts before it is applied."""
    checked = found_beforehand()
    row = operations.keep(work(), arguments["of"], arguments["name"], body, Options(), checked)
    return _shown(row), location("imports", row.id)


@blueprint.route("/imports")
@blueprint.arguments(ImportArguments, location="query")
@blueprint.response(200, ImportPageSchema)
def list_imports(arguments: dict[str, Any]) -> Any:
    """List the files that were brought in, the oldest first."""
    statement = select(Import)
    if "state" in arguments:
        statement = statement.where(Import.state == arguments["state"])
    page = page_of(work().session, statement, Import.id, arguments)
    return answer("imports", page, each(_summary))


@blueprint.route("/imports/<row:import_id>")
@blueprint.etag
@blueprint.response(200, ImportSchema)
def get_import(import_id: int) -> Any:
    """Return one file that was brought in, and how far somebody is who checks it."""
    return _shown(operations.find_import(work().session, import_id))


@blueprint.route("/imports/<row:import_id>/problems")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, ImportProblemPageSchema)
def list_problems(arguments: dict[str, Any], import_id: int) -> Any:
    """List everything that is wrong in a file, in the order of its rows."""
    row = operations.find_import(work().session, import_id)
    statement = select(ImportProblem).where(ImportProblem.import_id == row.id)
    return answer("problems", page_of(work().session, statement, ImportProblem.id, arguments))


def _checked_changed(reading: Work, import_id: int) -> Checked:
    row = operations.find_import(reading.session, import_id)
    operations.refuse_ended(row)
    said = blueprint.ARGUMENTS_PARSER.parse(ChangedImportSchema, request, location="json")
    return _checked(reading, row, replace(operations.options_of(row), **said), CHECKING)


@blueprint.route("/imports/<row:import_id>", methods=["PATCH"])
@blueprint.arguments(ChangedImportSchema)
@blueprint.etag
@blueprint.response(200, ImportSchema)
@beforehand(_checked_changed)
def patch_import(body: dict[str, Any], import_id: int) -> Any:
    """Say what columns are, and how the file is to be read; it is checked again."""
    row = locked(work().session, operations.find_import(work().session, import_id))
    # How far somebody is with it is no change of it.
    blueprint.check_etag(replace(_shown(row), progress=None), ImportSchema)
    checked = found_beforehand()
    operations.refuse_ended(row)
    row.options = {**row.options, **body}
    operations.note_check(work(), row, checked)
    return _shown(row)


@blueprint.route("/imports/<row:import_id>/check", methods=["POST"])
@blueprint.arguments(ChangedImportSchema)
@blueprint.response(200, ImportSchema)
@beforehand(_checked_changed)
def check_import(body: dict[str, Any], import_id: int) -> Any:
    """Check a file again, as the workshop is now; a GET meanwhile says how far it is."""
    checked = found_beforehand()
    row = locked(work().session, operations.find_import(work().session, import_id))
    operations.refuse_ended(row)
    row.options = {**row.options, **body}
    _refuse_changed(row, checked)
    operations.note_check(work(), row, checked)
    return _shown(row)


def _checked_to_apply(reading: Work, import_id: int) -> Checked:
    row = operations.find_import(reading.session, import_id)
    operations.refuse_not_clean(row)
    standing = operations.still_checked(reading, row)
    return standing or _checked(reading, row, operations.options_of(row), "applying")


@blueprint.route("/imports/<row:import_id>/apply", methods=["POST"])
@blueprint.arguments(Empty)
@blueprint.response(200, ImportSchema)
@beforehand(_checked_to_apply)
def apply_import(_body: dict[str, Any], import_id: int) -> Any:
    """Write everything that a checked file says, or nothing; its pieces arrive in one group."""
    checked = found_beforehand()
    row = operations.locked_with_the_same(work(), import_id)
    operations.refuse_not_clean(row)
    _refuse_changed(row, checked)
    return _shown(operations.apply(work(), row, checked))


@blueprint.route("/imports/<row:import_id>/withdraw", methods=["POST"])
@blueprint.arguments(Empty)
@blueprint.response(200, ImportSchema)
def withdraw_import(_body: dict[str, Any], import_id: int) -> Any:
    """Give a file up; its bytes are forgotten."""
    row = operations.find_import(work().session, import_id)
    return _shown(operations.withdraw(work(), row))


def _checked(reading: Work, row: Import, options: Options, doing: str) -> Checked:
    content, of = row.content or b"", row.of
    tell = _teller(row.id, doing)
    return operations.check_content(reading, of, content, options, tell, row.id)


def _refuse_changed(row: Import, checked: Checked) -> None:
    if checked.form.options != operations.options_of(row):
        raise Conflict(f"import {row.id} was changed meanwhile; look at it again")
