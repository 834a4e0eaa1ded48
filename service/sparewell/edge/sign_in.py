"""Bearer tokens (RFC 6750). Nobody is anonymous but on the public endpoints."""

from __future__ import annotations

import unicodedata
from typing import Any, NoReturn

from flask import g, request
from werkzeug.datastructures import WWWAuthenticate
from werkzeug.exceptions import BadRequest, Forbidden, Unauthorized

from sparewell.database.transaction import read
from sparewell.edge.context import Caller, caller, services
from sparewell.edge.tokens import allows, find_token
from sparewell.extend.work import Actor

PERSON_HEADER = "Sparewell-Person"
LONGEST_PERSON = 100
LONGEST_TOKEN = 200
_SCHEME = "bearer "


def sign_in(public_endpoints: frozenset[str]) -> None:
    """Find out who is calling, before anything else is looked at; refuse strangers with 401."""
    if request.endpoint in public_endpoints:
        return
    header = request.headers.get("Authorization", "")
    if not header.lower().startswith(_SCHEME):
        _refuse("send Authorization: Bearer <token>")
    text = header[len(_SCHEME) :].strip()
    found = services()
    with read(found.database) as session:
        token = find_token(session, text, found.clock()) if len(text) <= LONGEST_TOKEN else None
        if token is None:
            _refuse("the token is not known, is over, or was revoked", error="invalid_token")
        g.sparewell_caller = Caller(token.id, Actor(token.name, _person()), token.scope)


class ScopeLacking(Forbidden):
    """The token does not reach far enough (RFC 6750 section 3.1)."""

    def __init__(self, needed: str, present: str) -> None:
        super().__init__(f"this needs a token of scope {needed}; yours is {present}")
        self.needed = needed

    def get_headers(self, *arguments: Any, **options: Any) -> list[tuple[str, str]]:
        """Add the challenge that says which scope would do."""
        challenge = f'Bearer realm="sparewell", error="insufficient_scope", scope="{self.needed}"'
        return [*super().get_headers(*arguments, **options), ("WWW-Authenticate", challenge)]


def require_scope(needed: str) -> None:
    """Refuse with 403 a caller whose token does not reach far enough."""
    if not allows(caller().scope, needed):
        raise ScopeLacking(needed, caller().scope)


def _person() -> str | None:
    person = request.headers.get(PERSON_HEADER, "").strip()
    try:
        person = person.encode("latin-1").decode("utf-8")
    except UnicodeError:
        raise BadRequest(f"{PERSON_HEADER} must be UTF-8") from None
    if len(person) > LONGEST_PERSON or any(
        unicodedata.category(character) == "Cc" for character in person
    ):
        raise BadRequest(f"{PERSON_HEADER}: at most {LONGEST_PERSON} plain characters")
    return person or None


def _refuse(detail: str, **more: str | None) -> NoReturn:
    challenge = WWWAuthenticate("bearer", {"realm": "sparewell", **more})
    raise Unauthorized(detail, www_authenticate=challenge)
