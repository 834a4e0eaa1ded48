"""Bearer tokens (RFC 6750), and what each opens. Nobody is anonymous but on public endpoints.

A view says which scope it needs; one that says nothing is open to nobody, whatever the token.
"""

from __future__ import annotations

import unicodedata
from typing import Any, NoReturn

from flask import current_app, g, request
from werkzeug.datastructures import WWWAuthenticate
from werkzeug.exceptions import BadRequest, Forbidden, TooManyRequests, Unauthorized

from sparewell.edge.context import Caller, services
from sparewell.edge.gate import TOKEN_NAME_KEY
from sparewell.edge.reading import reading
from sparewell.edge.scopes import allows, scope_needed
from sparewell.edge.throttle import FailedAttempts
from sparewell.edge.tokens import digest_of, find_token
from sparewell.work import Actor

PERSON_HEADER = "Sparewell-Person"
LONGEST_PERSON = 100
LONGEST_TOKEN = 200
_SCHEME = "bearer "


def sign_in(public_endpoints: frozenset[str]) -> None:
    """Find out who is calling and whether they may, before anything else is looked at."""
    if request.endpoint in public_endpoints:
        return
    found = _caller_with_header()
    request.environ[TOKEN_NAME_KEY] = found.actor.token
    g.sparewell_caller = found
    if request.endpoint is not None:
        require_scope(found.scope, request.endpoint)


def _caller_with_header() -> Caller:
    header = request.headers.get("Authorization", "")
    if not header.lower().startswith(_SCHEME):
        _refuse("send Authorization: Bearer <token>")
    return caller_with(header[len(_SCHEME) :].strip(), _person())


def caller_with(text: str, person: str | None) -> Caller:
    """Return who calls with the text of a token. Raises Unauthorized and TooManyRequests."""
    found, address = services(), request.remote_addr or ""
    with reading() as session:
        is_short = len(text) <= LONGEST_TOKEN
        token = find_token(session, digest_of(text), found.clock()) if is_short else None
    if token is None:
        _refuse_unknown(found.failed_attempts, address)
    return Caller(token.id, Actor(token.name, person), token.scope)


def _refuse_unknown(attempts: FailedAttempts, address: str) -> NoReturn:
    wait_seconds = attempts.wait_seconds(address)
    if wait_seconds:
        raise TooManyRequests(
            f"too many tokens from {address or 'there'} were not known; wait {wait_seconds} s",
            retry_after=wait_seconds,
        )
    attempts.failed(address)
    _refuse("the token is not known, is over, or was revoked", error="invalid_token")


class ScopeLacking(Forbidden):
    """The token does not reach far enough (RFC 6750 section 3.1)."""

    def __init__(self, needed: str, present: str) -> None:
        super().__init__(f"this needs a token of scope {needed}; yours is {present}")
        self.needed = needed

    def get_headers(self, *arguments: Any, **options: Any) -> list[tuple[str, str]]:
        """Add the challenge that says which scope would do."""
        challenge = f'Bearer realm="sparewell", error="insufficient_scope", scope="{self.needed}"'
        return [*super().get_headers(*arguments, **options), ("WWW-Authenticate", challenge)]


def require_scope(present: str, endpoint: str) -> None:
    """Refuse whoever's scope does not open a view. Raises Forbidden."""
    needed = scope_needed(current_app.view_functions[endpoint], request.method)
    if needed is None:
        raise Forbidden("no scope opens this address: it does not say which one it needs")
    if not allows(present, needed):
        raise ScopeLacking(needed, present)


def _person() -> str | None:
    person = request.headers.get(PERSON_HEADER, "").strip()
    try:
        person = person.encode("latin-1").decode("utf-8")
    except UnicodeError:
        raise BadRequest(f"{PERSON_HEADER} must be UTF-8") from None
    if not is_name(person):
        raise BadRequest(f"{PERSON_HEADER}: at most {LONGEST_PERSON} plain characters")
    return person or None


def is_name(person: str) -> bool:
    """Whether a text can stand in the ledger as a person's name."""
    is_plain = all(unicodedata.category(character) != "Cc" for character in person)
    return is_plain and len(person) <= LONGEST_PERSON


def _refuse(detail: str, **more: str | None) -> NoReturn:
    challenge = WWWAuthenticate("bearer", {"realm": "sparewell", **more})
    raise Unauthorized(detail, www_authenticate=challenge)
