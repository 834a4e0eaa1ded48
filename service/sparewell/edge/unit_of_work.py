"""The unit of work of a request, and repeated requests.

Every view of the service runs inside :func:`in_unit_of_work`. The phases of a writing request:

1. where something is worked out beforehand, a repeat is looked up first; then that is worked out,
   in a session that only reads;
2. the database's write transaction is opened (and, after a lost race, opened again);
3. with an `Idempotency-Key`, the key is claimed by the first statement; a repeat finds the kept
   answer and is given that;
4. the view runs; where what was worked out no longer holds, nothing is done and all begins again;
5. the answer is kept with the key, and both are committed together with the effect. A refusal
   undoes everything, and is kept in a transaction of its own; so is the answer to a request that
   only looks.

So an answer is only ever sent after its effect is on the disk, and a repeat never has a second one.

A page of the bench runs inside :func:`in_page_work`, which does the same for a form and its key. Of
a form only where it sent the browser is kept: one that is refused leaves nothing behind, and the
page that says why is shown from a unit of work that only reads.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any

from flask import Response, current_app, g, make_response, request
from sqlalchemy import delete, select, update
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session
from werkzeug.exceptions import BadRequest, HTTPException

from sparewell.database import faults
from sparewell.database.inserting import insert_unless_there
from sparewell.database.transaction import Busy, pause, write
from sparewell.edge.beforehand import is_prepared, prepare_for, work_in
from sparewell.edge.context import caller, services
from sparewell.edge.errors import http_response, problem_response, refusal_response
from sparewell.edge.raw_body import admit_raw_body
from sparewell.edge.reading import reading, stop_reading
from sparewell.edge.scopes import SAFE_METHODS, guard, scope_needed
from sparewell.edge.tables import KeptAnswer
from sparewell.errors import Refusal
from sparewell.work import Due, Stale

KEY_HEADER = "Idempotency-Key"
REPLAYED_HEADER = "Idempotency-Replayed"
_KEY = re.compile(r'"?([\x21\x23-\x7e]{1,255})"?')
_KEPT_HEADERS = ("Content-Type", "Location", "ETag", "Link", "Allow")
# So often something is worked out for one request; then others were faster each time.
MOST_PREPARED = 4
MOST_DUE = 20
_NEVER_KEPT = frozenset({401, 403, 429})
_LOCK_NOT_AVAILABLE = "55P03"
_SERVER_ERROR = 500

View = Callable[..., Any]


class RequestInProgress(Exception):  # noqa: N818 - an expected state
    """The first request with this key has not been answered yet."""


class Again(Exception):  # noqa: N818 - an expected state
    """A form was refused: nothing of it is kept, and this page says so."""

    def __init__(self, page: Callable[[], Any]) -> None:
        super().__init__()
        self.page = page


class _Refused(Exception):  # noqa: N818 - an expected state
    """The view refused: what it did is undone, and this is answered."""

    def __init__(self, response: Response) -> None:
        super().__init__()
        self.response = response


@dataclass(frozen=True)
class _Key:
    """What tells a repeat from a new request, and whether it is the same one."""

    text: str
    fingerprint: str


def in_unit_of_work(view: View) -> View:
    """Wrap a view so that it runs in one unit of work."""

    @wraps(view)
    def run(**arguments: Any) -> Any:
        admit_raw_body(run)
        only_looks = scope_needed(run, request.method) == "read"
        text = None if request.method in SAFE_METHODS else _key()
        key = None if text is None else _Key(text, _fingerprint())
        if only_looks and key is None:
            return _read(lambda: view(**arguments))
        try:
            if only_looks:
                return _looked(lambda: _answered(view, arguments, key), key)
            return _done(run, arguments, key, lambda: _answered(view, arguments, key))
        except _Refused as refused:
            return _kept(refused.response, key)

    return guard(run)


def in_page_work(view: View, form_key: Callable[[], str | None]) -> View:
    """Wrap a page so that it runs in one unit of work, and a form sent twice is done once."""

    @wraps(view)
    def run(**arguments: Any) -> Any:
        try:
            if scope_needed(run, request.method) == "read":
                return _read(lambda: view(**arguments))
            text = form_key()
            # The key tells forms apart by all they hold.
            key = None if text is None else _Key(text, "")
            return _done(run, arguments, key, lambda: make_response(view(**arguments)))
        except Again as again:
            return _read(again.page)

    return guard(run)


def _read(show: Callable[[], Any]) -> Any:
    """Answer with nothing locked; where something is due before, that is written first."""
    for _ in range(MOST_DUE):
        try:
            with reading() as session:
                g.sparewell_work = work_in(session)
                response = make_response(show())
        except Due as due:
            stop_reading()
            write_beside(lambda session, due=due: due.act(work_in(session)))  # type: ignore[misc]
        else:
            stop_reading()
            return response
    raise Busy


def _key() -> str | None:
    header = request.headers.get(KEY_HEADER)
    if header is None or request.method != "POST":
        return None
    match = _KEY.fullmatch(header.strip())
    if match is None:
        raise BadRequest(f"{KEY_HEADER}: 1 to 255 visible ASCII characters, quoted or not")
    return match.group(1)


def _looked(show: Callable[[], Response], key: _Key | None) -> Response:
    """Answer what changes nothing, with nothing locked, and keep the answer for a repeat."""
    replay = _replayed(key)
    return _kept(_read(show), key) if replay is None else replay


def _replayed(key: _Key | None) -> Response | None:
    if key is None:
        return None
    with reading() as session:
        return _replay_of(session, key)


def _done(
    view: View, arguments: dict[str, Any], key: _Key | None, act: Callable[[], Response]
) -> Response:
    """Prepare, act and commit; where what was prepared no longer holds, do so again."""
    replay = _replayed(key) if is_prepared(view) else None
    if replay is not None:
        return replay
    for tried in range(MOST_PREPARED):
        pause(tried)
        try:
            _prepared(view, arguments)
            return _written(key, act, is_last=tried + 1 == MOST_PREPARED)
        except Stale:
            continue
    raise Busy


def _prepared(view: View, arguments: dict[str, Any]) -> None:
    """Work out what a view needs, and before it what is due; that may be one thing after another.

    What was due and is over is due no more, so this ends.
    """
    for _ in range(MOST_DUE):
        try:
            prepare_for(view, arguments)
        except Due as due:
            stop_reading()
            write_beside(lambda session, due=due: due.act(work_in(session)))  # type: ignore[misc]
        else:
            stop_reading()
            return
    raise Busy


def write_beside(act: Callable[[Session], Any]) -> Any:
    """Do something in a transaction of its own, beside what is read."""
    return write(services().database, act)


def _written(key: _Key | None, act: Callable[[], Response], *, is_last: bool) -> Response:
    def once(session: Session) -> Response:
        g.sparewell_work = work_in(session, is_last=is_last)
        if key is None:
            return act()
        claimed = _claim(session, key)
        return claimed if isinstance(claimed, Response) else _keep(session, claimed, act())

    response: Response = write_beside(once)
    return response


def _answered(view: View, arguments: dict[str, Any], key: _Key | None) -> Response:
    """Return the answer of a view; where a key is kept, a refusal is one too."""
    try:
        return make_response(view(**arguments))
    except Refusal as refusal:
        if key is None:
            raise
        raise _Refused(refusal_response(refusal)) from refusal
    except HTTPException as error:
        if key is None:
            raise
        raise _Refused(http_response(error)) from error


def _kept(response: Response, key: _Key | None) -> Response:
    """Keep an answer that has no effect for a repeat, unless another was kept meanwhile."""
    if key is None or _is_never_kept(response):
        return response
    return _written(key, lambda: response, is_last=True)


def _is_never_kept(response: Response) -> bool:
    return response.status_code in _NEVER_KEPT or response.status_code >= _SERVER_ERROR


def _claim(session: Session, key: _Key) -> int | Response:
    """Claim the key and return its row, or the answer that the first request with it had."""
    values = {
        **_request_of(key),
        "fingerprint": key.fingerprint,
        "headers": {},
        "created_at": services().clock(),
    }
    statement = insert_unless_there(session, KeptAnswer).values(values).returning(KeptAnswer.id)
    try:
        claimed = session.scalar(statement)
    except OperationalError as error:
        if getattr(error.orig, "sqlstate", None) == _LOCK_NOT_AVAILABLE:
            raise RequestInProgress from error
        raise
    if claimed is not None:
        faults.reach(faults.AFTER_KEY_CLAIMED)
        return claimed
    replay = _replay_of(session, key)
    if replay is None:
        raise RequestInProgress
    return replay


def _keep(session: Session, claimed: int, response: Response) -> Response:
    """Keep an answer for a repeat."""
    of_this = KeptAnswer.id == claimed
    if _is_never_kept(response):
        session.execute(delete(KeptAnswer).where(of_this))
        return response
    headers = {name: response.headers[name] for name in _KEPT_HEADERS if name in response.headers}
    values = {"status": response.status_code, "headers": headers, "body": response.get_data()}
    session.execute(
        update(KeptAnswer).where(of_this).values(values),
        execution_options={"synchronize_session": False},
    )
    return response


def _request_of(key: _Key) -> dict[str, Any]:
    return {
        "token_id": caller().token_id,
        "method": request.method,
        "path": request.path[:300],
        "key": key.text,
    }


def _replay_of(session: Session, key: _Key) -> Response | None:
    """Return what is kept for a repeat of a request that was answered."""
    kept = session.scalar(select(KeptAnswer).filter_by(**_request_of(key)))
    return None if kept is None else _replay(kept, key.fingerprint)


def _replay(kept: KeptAnswer, fingerprint: str) -> Response:
    if kept.fingerprint != fingerprint:
        return problem_response(
            422,
            f"this {KEY_HEADER} came before with another body; take a new key for a new request",
            slug="idempotency-key-reused",
        )
    if kept.status is None:
        raise RequestInProgress
    return current_app.response_class(
        kept.body, kept.status, headers={**kept.headers, REPLAYED_HEADER: "true"}
    )


def _fingerprint() -> str:
    whole = b"\0".join((request.query_string, request.get_data(cache=True)))
    return hashlib.sha256(whole).hexdigest()
