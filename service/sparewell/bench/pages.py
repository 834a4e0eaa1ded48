"""What every page of the bench has: its frame, its careful headers, its forms, its refusals.

The phases of a page's request:

1. whoever has no session is sent to sign in; what was typed into a form goes along;
2. a form must be of this session, or it is asked for once more (nothing typed is lost);
3. the view asks the API, and shows what it said; after a form that did something it sends the
   browser to the page that shows it.
"""

from __future__ import annotations

import hashlib
import re
import secrets
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final
from urllib.parse import SplitResult, urlsplit

from flask import Blueprint, Response, g, make_response, redirect, render_template, request
from werkzeug.exceptions import BadRequest

from sparewell.bench import sessions, wording
from sparewell.bench.asking import Refused
from sparewell.database.transaction import read
from sparewell.edge.context import Caller, services
from sparewell.edge.errors import PROBLEM_TYPE
from sparewell.edge.raw_body import admit_raw_body
from sparewell.edge.scopes import SAFE_METHODS
from sparewell.work import Actor

COOKIE = "sparewell_bench"
LOOK_COOKIE = "sparewell_look"
LOOKS = ("daylight", "lamplight")
FORM_TOKEN, FORM_KEY = "form_token", "form_key"
OF_THE_FORM = frozenset({FORM_TOKEN, FORM_KEY})
LONGEST_KEY = 60
PART_HEADER = "Sparewell-Part"
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_SEE_OTHER, _UNAUTHORIZED, _UNAVAILABLE = 303, 401, 503

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
    admit_raw_body(view)
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
    """Return an address of ours; anything else becomes the first page. Raises BadRequest."""
    parts = _split(wanted)
    is_ours = wanted.startswith("/") and not parts.netloc and "\\" not in wanted
    return wanted if is_ours and not wanted.startswith("//") else "/"


def _split(wanted: str) -> SplitResult:
    """Split an address. Raises BadRequest for what is none."""
    try:
        if not any(unicodedata.category(character) == "Cc" for character in wanted):
            return urlsplit(wanted)
    except ValueError:
        pass
    raise BadRequest("the address to go on to, or to go back to, is no address")


def _came_from() -> SplitResult:
    """Return the address of the page before this one, or that of the first page."""
    try:
        return _split(request.referrer or "/")
    except BadRequest:
        return urlsplit("/")


def show(template: str, **values: Any) -> str:
    """Return a page in its frame, or the part of it that a script asked for."""
    secret = g.get("bench_secret")
    look = request.cookies.get(LOOK_COOKIE)
    return render_template(
        template,
        frame="part.html" if request.headers.get(PART_HEADER) else "frame.html",
        signed_in=secret is not None,
        form_token=sessions.form_token(secret) if secret else "",
        form_key=_same_key() or secrets.token_urlsafe(16),
        look=look if look in LOOKS else "",
        here=request.path,
        here_in_full=request.full_path.rstrip("?"),
        said=wording.SAID.get(request.args.get("said", "")),
        way_back=_way_back(request.args.get("undo", "")),
        **values,
    )


_WAYS_BACK: Final[Sequence[tuple[re.Pattern[str], str, Mapping[str, str]]]] = (
    # What undoes an act: the address is put together here, from numbers only.
    (re.compile(r"group-([0-9]{1,18})"), "/undo/{0}", {}),
    (re.compile(r"(JOB-[0-9]{1,18})-step-([0-9]{1,4})"), "/jobs/{0}/steps/{1}", {"undone": "yes"}),
    (
        re.compile(r"(JOB-[0-9]{1,18})-bag-([0-9]{1,18})-fitted-([0-9]{1,18})"),
        "/jobs/{0}/put-back/{1}",
        {"reservation": "{2}", "condition": "as new"},
    ),
)


def _way_back(what: str) -> tuple[str, dict[str, str]] | None:
    """Return the form that undoes what a notice speaks of: where it goes, and what it carries."""
    for pattern, action, fields in _WAYS_BACK:
        found = pattern.fullmatch(what)
        if found:
            steps = found.groups()
            carried = {name: value.format(*steps) for name, value in fields.items()}
            return action.format(*steps), carried | {"to": request.path}
    return None


def _same_key() -> str:
    """Return the key of a form whose outcome nobody knows, so that it can safely be sent again."""
    is_unknown = g.get("bench_outcome_unknown") and request.method not in SAFE_METHODS
    return request.form.get(FORM_KEY, "")[:LONGEST_KEY] if is_unknown else ""


def form_key(what: str = "") -> str | None:
    """Return the key under which the API is asked what this form asks: twice, it is done once.

    All forms of a page carry one key; which of them was sent, and with what, makes the difference.
    """
    key = request.form.get(FORM_KEY, "")
    if not key:
        return None
    whole = repr((request.path, sorted(typed()))).encode("utf-8", "surrogatepass")
    return f"{key[:LONGEST_KEY]}-{hashlib.sha256(whole).hexdigest()[:24]}{what}"


def see(path: str, *, at: str = "", **query: Any) -> Response:
    """Send the browser on to the page that shows what was done, and to the place on it."""
    wanted = wording.link(path, **query) + (f"#{at}" if at else "")
    return make_response(redirect(wanted, _SEE_OTHER))


@blueprint.errorhandler(Refused)
def refused(error: Refused) -> Any:
    """Show a refusal that no page knew better than to show by itself."""
    parts = _came_from()
    to = inside(f"{parts.path}?{parts.query}" if parts.query else parts.path)
    is_unknown = error.status == _UNAVAILABLE and request.method not in SAFE_METHODS
    page = show(
        "refused.html",
        problem=error,
        back=to or "/",
        again=typed() if is_unknown else None,
        changed_nothing=request.method not in SAFE_METHODS,
    )
    return page, error.status


def as_page(response: Response) -> Response:
    """Say to a person, on a page, what a program would be told in a problem document."""
    is_ours = request.blueprint == blueprint.name
    if response.mimetype != PROBLEM_TYPE or not (is_ours or is_a_person()):
        return response
    page = make_response(refused(Refused(response.status_code, response.get_json(force=True))))
    for name in ("Allow", "Retry-After"):
        if name in response.headers:
            page.headers[name] = response.headers[name]
    return be_careful(page)


def is_a_person() -> bool:
    """Whether somebody typed an address into a browser that nothing answers to."""
    wants_page = request.accept_mimetypes.best_match(("application/json", "text/html"))
    return wants_page == "text/html" and not request.path.startswith("/v1/")


@blueprint.after_request
def be_careful(response: Response) -> Response:
    """Give a page the policy under which it may show pictures and run our one script."""
    response.headers.setdefault("Content-Security-Policy", POLICY)
    # A form of a page that tells nobody where it comes from would come from nowhere.
    response.headers["Referrer-Policy"] = "same-origin"
    return response


@blueprint.teardown_request
def close_files(_error: BaseException | None) -> None:
    """Let go of the files that came with a form."""
    request.close()
