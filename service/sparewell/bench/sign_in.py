"""Signing in with a token, and out; daylight and lamplight; the page's own files."""

from __future__ import annotations

from pathlib import Path

from flask import Response, g, make_response, request, send_from_directory
from werkzeug.exceptions import (
    HTTPException,
    NotFound,
    TooManyRequests,
    Unauthorized,
    UnprocessableEntity,
)

from sparewell.bench import sessions
from sparewell.bench.pages import (
    COOKIE,
    LOOK_COOKIE,
    LOOKS,
    Shown,
    blueprint,
    by_itself,
    go_on,
    inside,
    open_to_all,
    see,
    show,
)
from sparewell.database.transaction import write
from sparewell.edge.context import services
from sparewell.edge.scopes import scope
from sparewell.edge.sign_in import LONGEST_PERSON, caller_with, is_name

KEPT = "kept:"
_FILES = Path(__file__).parent / "files"
_A_YEAR_SECONDS = 365 * 24 * 3600
_OWN_FIELDS = frozenset({"token", "person", "to"})


def _kept() -> list[tuple[str, str]]:
    """Return what another form held when its session was over."""
    return [
        (name.removeprefix(KEPT), value)
        for name, value in request.form.items(multi=True)
        if name.startswith(KEPT)
    ]


@blueprint.get("/sign-in")
@open_to_all
def sign_in_page() -> Shown:
    """Ask for a token."""
    return show("sign_in.html", to=inside(request.args.get("to", "/")), kept=[])


@blueprint.post("/sign-in")
@open_to_all
def sign_in() -> Shown:
    """Open a session for whoever has a token, and go on where they were."""
    to, kept = inside(request.form.get("to", "/")), _kept()
    person = request.form.get("person", "").strip()
    if not is_name(person):
        long = UnprocessableEntity(f"the name: at most {LONGEST_PERSON} plain characters")
        return _again(long, to, kept)
    try:
        found = caller_with(request.form.get("token", "").strip(), person or None)
    except (Unauthorized, TooManyRequests) as error:
        return _again(error, to, kept)
    services_here = services()
    secret = write(
        services_here.database,
        lambda session: sessions.open_session(
            session, found.token_id, person or None, services_here.clock()
        ),
    )
    g.bench_secret = secret
    response = make_response(go_on(to, kept)) if kept else see(to)
    _set_cookie(response, COOKIE, secret, int(sessions.LASTS.total_seconds()))
    return response


def _again(error: HTTPException, to: str, kept: list[tuple[str, str]]) -> Shown:
    """Ask once more, with the reason and everything that was typed elsewhere."""
    page = show("sign_in.html", to=to, kept=kept, problem=error.description)
    headers = {name: value for name, value in error.get_headers() if name.lower() == "retry-after"}
    return make_response(page, error.code or 401, headers)


@blueprint.post("/sign-out")
@by_itself
@scope("read")
def sign_out() -> Shown:
    """End the session here and in the database."""
    found = services()
    write(
        found.database,
        lambda session: sessions.end_session(session, g.bench_secret, found.clock()),
    )
    response = see("/sign-in")
    response.delete_cookie(COOKIE, httponly=True, samesite="Lax", secure=request.is_secure)
    return response


@blueprint.post("/look")
@by_itself
@scope("read")
def change_look() -> Shown:
    """Light the page for the day or for the lamp; without a choice, as the browser has it."""
    look = request.form.get("look", "")
    response = see(inside(request.form.get("to", "/")))
    if look in LOOKS:
        _set_cookie(response, LOOK_COOKIE, look, _A_YEAR_SECONDS)
    else:
        response.delete_cookie(LOOK_COOKIE)
    return response


def _set_cookie(response: Response, name: str, value: str, seconds: int) -> None:
    # Lax, not Strict: a label's code, read by a phone, opens the page as whoever is signed in.
    response.set_cookie(
        name,
        value,
        max_age=seconds,
        httponly=True,
        samesite="Lax",
        secure=request.is_secure,
    )


@blueprint.get("/bench/<name>")
@open_to_all
def file(name: str) -> Response:
    """Serve the style and the script."""
    if not (_FILES / name).is_file() or name.startswith("."):
        raise NotFound
    return send_from_directory(_FILES, name, conditional=True)
