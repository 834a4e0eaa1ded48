"""What can be done with a file that is brought in: kept, checked, changed, applied, withdrawn.

Checking writes nothing and takes its time. What the rows of a clean file become is kept until it is
applied; where that does not hold any more, the file is checked once more, outside the transaction.
Then everything is written or nothing, inside a short one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session

from sparewell.database.transaction import locked, locked_rows
from sparewell.errors import Conflict, NotFound, Problem
from sparewell.imports import other_forms, stock_forms
from sparewell.imports.checking import Checked, check
from sparewell.imports.forms import Fault, Options, Progress
from sparewell.imports.mapping import Column
from sparewell.imports.tables import Import, ImportState
from sparewell.imports.tables import ImportProblem as ImportProblemRow
from sparewell.work import Work

FORMS = {**stock_forms.FORMS, **other_forms.FORMS}
_CHUNK_ROWS = 5000


def find_import(session: Session, import_id: int) -> Import:
    """Return an import by its id. Raises :class:`NotFound`."""
    row = session.get(Import, import_id)
    if row is None:
        raise NotFound(f"there is no import {import_id}")
    return row


def digest_of(content: bytes) -> str:
    """Return what tells a file from every other."""
    return hashlib.sha256(content).hexdigest()


def options_of(row: Import) -> Options:
    """Return what was said about an import's file."""
    return Options(**row.options)


def check_content(
    work: Work, of: str, content: bytes, options: Options, tell: Progress, import_id: int = 0
) -> Checked:
    """Check a file, and whether it was applied before. Raises :class:`Impossible`."""
    checked = check(work, of, FORMS, content, options, tell)
    before = None if options.again else _applied_before(work, of, digest_of(content), import_id)
    if before is not None:
        detail = f"this very file was applied as import {before}"
        accepted = "another file, or the option again where the same came a second time"
        checked.faults.insert(0, Fault(detail, accepted))
        checked.faults_total += 1
    return checked


def _applied_before(work: Work, of: str, digest: str, import_id: int) -> int | None:
    """Return which import applied this very file, if another did."""
    statement = select(Import.id).where(
        Import.sha256 == digest,
        Import.of == of,
        Import.state == ImportState.APPLIED,
        Import.id != import_id,
    )
    return work.session.scalars(statement.order_by(Import.id)).first()


def locked_with_the_same(work: Work, import_id: int) -> Import:
    """Lock an import and all others of its very file: of them one at a time may be applied."""
    row = find_import(work.session, import_id)
    same = select(Import.id).where(Import.sha256 == row.sha256, Import.of == row.of)
    rows = locked_rows(work.session, Import, work.session.scalars(same).all())
    return next(each for each in rows if each.id == import_id)


def still_checked(work: Work, row: Import) -> Checked | None:
    """Return a check of an import that still holds; None where it has to be checked again."""
    options = options_of(row)
    form = FORMS[row.of](work, options)
    if row.ready is None or not form.take_up(row.ready):
        return None
    if not options.again and _applied_before(work, row.of, row.sha256, row.id) is not None:
        return None
    return Checked([], row.rows, [], form, [])


def keep(
    work: Work, of: str, name: str, content: bytes, options: Options, checked: Checked | None
) -> Import:
    """Keep a file, with what came of checking it, if it was."""
    row = Import(
        name=name,
        of=of,
        state=ImportState.WAITING,
        content=content,
        size_bytes=len(content),
        sha256=digest_of(content),
        options=asdict(options),
        columns=[],
        rows=0,
        problems_total=0,
        notices=[],
        created={},
        progress_done=0,
        progress_of=0,
        actor=work.actor.token,
        person=work.actor.person,
        created_at=work.now,
    )
    work.session.add(row)
    work.session.flush()
    if checked is not None:
        note_check(work, row, checked)
    return row


def note_check(work: Work, row: Import, checked: Checked) -> None:
    """Write down what came of checking a file, in the place of what came before."""
    row.state = ImportState.CHECKED if checked.is_clean else ImportState.FAULTY
    row.columns = [_column(column) for column in checked.columns]
    row.rows = checked.rows
    row.problems_total = checked.faults_total
    row.notices = checked.notices
    row.ready = checked.form.ready() if checked.is_clean else None
    row.checked_at = work.now
    row.progress_at = None
    _drop_problems(work.session, row)
    work.session.flush()
    for start in range(0, len(checked.faults), _CHUNK_ROWS):
        some = checked.faults[start : start + _CHUNK_ROWS]
        work.session.execute(
            insert(ImportProblemRow.__table__),  # type: ignore[arg-type] # it is mapped to one table
            [{**asdict(fault), "import_id": row.id} for fault in some],
        )


def _column(column: Column) -> dict[str, Any]:
    return {
        "column": column.letter,
        "header": column.header,
        "samples": list(column.samples),
        "field": column.field,
        "unit": column.unit,
        "why": column.why,
    }


def _drop_problems(session: Session, row: Import) -> None:
    session.execute(delete(ImportProblemRow).where(ImportProblemRow.import_id == row.id))


def refuse_ended(row: Import) -> None:
    """Refuse to do anything more with an import that was applied or withdrawn."""
    if row.state == ImportState.APPLIED:
        made = ", ".join(f"{count} {what}" for what, count in counts(row.created).items())
        group = f", group {row.act_id} of the ledger" if row.act_id else ""
        raise Conflict(
            f"import {row.id} was applied already: {made}{group}",
            [Problem("", "it was applied", {"group": row.act_id, "created": row.created})],
        )
    if row.state == ImportState.WITHDRAWN:
        raise Conflict(f"import {row.id} was withdrawn; send the file again")


def counts(created: Mapping[str, Any]) -> dict[str, int]:
    """Return how many of each were made."""
    return {
        what: len(made) if isinstance(made, Sequence) else int(made)
        for what, made in created.items()
    }


def refuse_not_clean(row: Import) -> None:
    """Refuse to apply what was applied, withdrawn, never checked, or has problems."""
    refuse_ended(row)
    if row.state != ImportState.CHECKED:
        what = "is not checked yet"
        if row.state == ImportState.FAULTY:
            what = f"has {row.problems_total} problems"
        raise Conflict(f"import {row.id} {what}; nothing was changed")


def apply(work: Work, row: Import, checked: Checked) -> Import:
    """Write everything that a clean, locked import says, or nothing. Raises :class:`Conflict`."""
    if not checked.is_clean:
        raise Conflict(
            f"import {row.id} was clean when it was checked and is not any more; nothing was "
            "changed. Check it again",
            [
                Problem("", fault.detail, {"row": fault.row, "cell": fault.cell})
                for fault in checked.faults[:100]
            ],
        )
    before = None if options_of(row).again else _applied_before(work, row.of, row.sha256, row.id)
    if before is not None:
        raise Conflict(
            f"this very file was applied as import {before} meanwhile; nothing was changed",
            [Problem("", "withdraw it, or check it with the option again where it came twice")],
        )
    row.created, row.act_id = checked.form.write(work, row.name)
    _end(work, row, ImportState.APPLIED)
    return row


def withdraw(work: Work, row: Import) -> Import:
    """Give up an import; its file is forgotten. Raises :class:`Conflict`."""
    row = locked(work.session, row)
    refuse_ended(row)
    _end(work, row, ImportState.WITHDRAWN)
    return row


def _end(work: Work, row: Import, state: ImportState) -> None:
    row.state = state
    row.content = row.ready = None
    row.ended_at = work.now
    row.progress_at = None
    _drop_problems(work.session, row)
    work.session.flush()


def note_progress(
    session: Session, import_id: int, doing: str, done: int, of: int, at: datetime
) -> None:
    """Say how far somebody is who checks or applies an import."""
    session.execute(
        update(Import)
        .where(
            Import.id == import_id,
            Import.state.not_in((ImportState.APPLIED, ImportState.WITHDRAWN)),
        )
        .values(progress_doing=doing, progress_done=done, progress_of=of, progress_at=at)
        .execution_options(synchronize_session=False)
    )
