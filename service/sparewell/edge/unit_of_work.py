"""The unit of work of a request, and repeated requests.

Every view of the service runs inside :func:`in_unit_of_work`. The phases of a writing request:

1. the database's write transaction is opened (and, after a lost race, opened again);
2. with an `Idempotency-Key`, the key is claimed by the first statement; a repeat finds the kept
   answer and is given that;
3. the view runs; a refusal undoes what it did;
4. the answer is kept with the key, and both are committed together with the effect.

So an answer is only ever sent after its effect is on the disk, and a repeat never has a second one.

A page of the bench runs inside :func:`in_page_work`, which does the same for a form and its key. Of
a form only where it sent the browser is kept: one that is refused leaves nothing behind, and the
page that says why is shown from a unit of work that only reads.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from functools import wraps
from typing import Any

from flask import Response, current_app, g, make_response, request
from sqlalchemy import select
from sqlalchemy.dialects.postgresql import insert as insert_postgresql
from sqlalchemy.dialects.sqlite import insert as insert_sqlite
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session
from werkzeug.exceptions import BadRequest, HTTPException

from sparewell.database import faults
from sparewell.database.transaction import read, write
from sparewell.edge.beforehand import prepare_for
from sparewell.edge.context import caller, services
from sparewell.edge.errors import http_response, problem_response, refusal_response
from sparewell.edge.raw_body import admit_raw_body
from sparewell.edge.scopes import SAFE_METHODS, guard, scope_needed
from sparewell.edge.tables import KeptAnswer
from sparewell.errors import Refusal
from sparewell.work import Work

KEY_HEADER = "Idempotency-Key"
REPLAYED_HEADER = "Idempotency-Replayed"
_KEY = re.compile(r'"?([\x21\x23-\x7e]{1,255})"?')
_KEPT_HEADERS = ("Content-Type", "Location", "ETag", "Link", "Allow")
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


def in_unit_of_work(view: View) -> View:
    """Wrap a view so that it runs in one unit of work."""

    @wraps(view)
    def run(**arguments: Any) -> Any:
        admit_raw_body(run)
        prepare_for(run, arguments)
        only_looks = scope_needed(run, request.method) == "read"
        key = None if request.method in SAFE_METHODS else _key()
        if only_looks and key is None:
            return _read(lambda: view(**arguments))
        return write(services().database, lambda session: _written(session, view, arguments, key))

    return guard(run)


def in_page_work(view: View, form_key: Callable[[], str | None]) -> View:
    """Wrap a page so that it runs in one unit of work, and a form sent twice is done once."""

    @wraps(view)
    def run(**arguments: Any) -> Any:
        try:
            if scope_needed(run, request.method) == "read":
                return _read(lambda: view(**arguments))
            key = form_key()
            return write(services().database, lambda session: _sent(session, view, arguments, key))
        except Again as again:
            return _read(again.page)

    return guard(run)


def _read(show: Callable[[], Any]) -> Any:
    with read(services().database) as session:
        _enter(session)
        return make_response(show())


def _enter(session: Session) -> None:
    found = services()
    g.sparewell_work = Work(session, found.clock(), caller().actor, found.declared)


def _key() -> str | None:
    header = request.headers.get(KEY_HEADER)
    if header is None or request.method != "POST":
        return None
    match = _KEY.fullmatch(header.strip())
    if match is None:
        raise BadRequest(f"{KEY_HEADER}: 1 to 255 visible ASCII characters, quoted or not")
    return match.group(1)


def _written(session: Session, view: View, arguments: dict[str, Any], key: str | None) -> Any:
    _enter(session)
    if key is None:
        return make_response(view(**arguments))
    claim = _claim(session, key, _fingerprint())
    if isinstance(claim, Response):
        return claim
    try:
        with session.begin_nested():
            response = make_response(view(**arguments))
    except Refusal as refusal:
        response = refusal_response(refusal)
    except HTTPException as error:
        response = http_response(error)
    if response.status_code in _NEVER_KEPT or response.status_code >= _SERVER_ERROR:
        session.delete(claim)
        return response
    return _keep(session, claim, response)


def _sent(session: Session, view: View, arguments: dict[str, Any], key: str | None) -> Any:
    """Do what a form asks for, unless it was done: the key tells forms apart by all they hold."""
    _enter(session)
    claim = None if key is None else _claim(session, key, "")
    if isinstance(claim, Response):
        return claim
    response = make_response(view(**arguments))
    return response if claim is None else _keep(session, claim, response)


def _keep(session: Session, claim: KeptAnswer, response: Response) -> Response:
    """Keep an answer for a repeat."""
    claim.status = response.status_code
    claim.headers = {
        name: response.headers[name] for name in _KEPT_HEADERS if name in response.headers
    }
    claim.body = response.get_data()
    session.flush()
    return response


def _claim(session: Session, key: str, fingerprint: str) -> KeptAnswer | Response:
    """Claim the key, or return the answer that the first request with it had."""
    insert = insert_sqlite if services().database.is_sqlite else insert_postgresql
    values = {
        "token_id": caller().token_id,
        "method": request.method,
        "path": request.path[:300],
        "key": key,
        "fingerprint": fingerprint,
        "headers": {},
        "created_at": services().clock(),
    }
    statement = insert(KeptAnswer).values(values).on_conflict_do_nothing().returning(KeptAnswer.id)
    try:
        claimed = session.scalar(statement)
    except OperationalError as error:
        if getattr(error.orig, "sqlstate", None) == _LOCK_NOT_AVAILABLE:
            raise RequestInProgress from error
        raise
    where = [getattr(KeptAnswer, name) == values[name] for name in ("token_id", "method", "path")]
    kept = session.scalars(select(KeptAnswer).where(*where, KeptAnswer.key == key)).one()
    if claimed is None:
        return _replay(kept, fingerprint)
    faults.reach(faults.AFTER_KEY_CLAIMED)
    return kept


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
