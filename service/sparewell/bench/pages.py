"""What every page of the bench has: its frame, its careful headers, its forms, its refusals.

The phases of a page's request:

1. whoever has no session is sent to sign in; what was typed into a form goes along;
2. a form must be of this session, or it is asked for once more (nothing typed is lost);
3. the view asks the API, and shows what it said; after a form that did something it sends the
   browser to the page that shows it.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from typing import Any
from urllib.parse import urlsplit

from flask import Blueprint, Response, g, make_response, redirect, render_template, request

from sparewell.bench import sessions, wording
from sparewell.bench.asking import Refused
from sparewell.database.transaction import read
from sparewell.edge.context import Caller, services
from sparewell.edge.scopes import SAFE_METHODS
from sparewell.extend.work import Actor

COOKIE = "sparewell_bench"
LOOK_COOKIE = "sparewell_look"
LOOKS = ("daylight", "lamplight")
FORM_TOKEN, FORM_KEY = "form_token", "form_key"
OF_THE_FORM = frozenset({FORM_TOKEN, FORM_KEY})
PART_HEADER = "Sparewell-Part"
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_SEE_OTHER, _UNAUTHORIZED = 303, 401

blueprint = Blueprint("bench", __name__, template_folder="templates", static_folder=None)
wording.add_to(blueprint)


def open_to_all(view: Any) -> Any:
    """Mark a page that is shown without a session."""
    view.__dict__["open_to_all"] = True
    return view


def enter(view: Any) -> Any:
    """Find out whose session it is; return the answer instead of the page where there is none."""
    secret = request.cookies.get(COOKIE, "")
    found = services()
    with read(found.database) as session:
        present = sessions.find_session(session, secret, found.clock())
        if present is not None:
            actor = Actor(present.token.name, present.person)
            g.sparewell_caller = Caller(present.token_id, actor, present.token.scope)
            g.bench_secret = secret
    if view.__dict__.get("open_to_all"):
        return None
    if present is None:
        return _sign_in_first()
    is_ours = request.method in SAFE_METHODS or sessions.is_form_token(
        secret, request.form.get(FORM_TOKEN, "")
    )
    return None if is_ours else make_response(go_on(request.full_path, typed()), _UNAUTHORIZED)


def _sign_in_first() -> Response:
    if request.method in SAFE_METHODS:
        wanted = request.full_path if request.query_string else request.path
        return see("/sign-in", to=wanted)
    page = show("sign_in.html", to=request.full_path.rstrip("?"), kept=typed(), is_over=True)
    return make_response(page, _UNAUTHORIZED)


def go_on(to: str, kept: Iterable[tuple[str, str]]) -> str:
    """Return the page that sends a form once more, with everything that was typed into it."""
    return show("go_on.html", to=inside(to), kept=list(kept))


def typed() -> list[tuple[str, str]]:
    """Return what the form of this request holds, but for what belongs to the form itself."""
    return [each for each in request.form.items(multi=True) if each[0] not in OF_THE_FORM]


def inside(wanted: str) -> str:
    """Return an address of ours; anything else becomes the first page."""
    parts = urlsplit(wanted)
    is_ours = wanted.startswith("/") and not parts.netloc and "\\" not in wanted
    return wanted if is_ours and not wanted.startswith("//") else "/"


def show(template: str, **values: Any) -> str:
    """Return a page in its frame, or the part of it that a script asked for."""
    secret = g.get("bench_secret")
    look = request.cookies.get(LOOK_COOKIE)
    return render_template(
        template,
        frame="part.html" if request.headers.get(PART_HEADER) else "frame.html",
        signed_in=secret is not None,
        form_token=sessions.form_token(secret) if secret else "",
        form_key=secrets.token_urlsafe(16),
        look=look if look in LOOKS else "",
        here=request.path,
        here_in_full=request.full_path.rstrip("?"),
        said=wording.SAID.get(request.args.get("said", "")),
        **values,
    )


def form_key(what: str = "") -> str | None:
    """Return the key of this form: sent twice, it has one effect."""
    key = request.form.get(FORM_KEY, "")
    return f"{key}{what}" if key else None


def see(path: str, **query: Any) -> Response:
    """Send the browser on to the page that shows what was done."""
    return make_response(redirect(wording.link(path, **query), _SEE_OTHER))


@blueprint.errorhandler(Refused)
def refused(error: Refused) -> Any:
    """Show a refusal that no page knew better than to show by itself."""
    back = request.referrer or "/"
    parts = urlsplit(back)
    to = inside(f"{parts.path}?{parts.query}" if parts.query else parts.path)
    return show("refused.html", problem=error, back=to), error.status


@blueprint.after_request
def be_careful(response: Response) -> Response:
    """Give a page the policy under which it may show pictures and run our one script."""
    response.headers.setdefault("Content-Security-Policy", POLICY)
    # A form of a page that tells nobody where it comes from would come from nowhere.
    response.headers["Referrer-Policy"] = "same-origin"
    return response
