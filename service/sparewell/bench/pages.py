"""What every page of the bench has: its frame, its careful headers, its forms, its refusals.

The phases of a page's request:

1. whoever has no session is sent to sign in; what was typed into a form goes along;
2. a form must be of this session, or it is asked for once more (nothing typed is lost), and the
   session's token must open the page;
3. the page looks, or the form acts, in one unit of work; after a form that did something the
   browser is sent to the page that shows it, and a form that is refused is shown again.
"""

from __future__ import annotations

import hashlib
import re
import secrets
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from typing import Any, Final, NoReturn, TypeVar
from urllib.parse import SplitResult, urlsplit

import flask
from flask import Response, g, make_response, redirect, render_template, request
from sqlalchemy import Select
from sqlalchemy.orm import InstrumentedAttribute
from werkzeug.exceptions import BadRequest
from werkzeug.wrappers import Response as AnyResponse

from sparewell.bench import sessions, wording
from sparewell.bench.typed import Typed, by_field, row_of
from sparewell.edge.context import Caller, services, work
from sparewell.edge.errors import PROBLEM_TYPE
from sparewell.edge.paging import page_of
from sparewell.edge.raw_body import RAW_LIMIT, admit_raw_body
from sparewell.edge.reading import reading
from sparewell.edge.scopes import SAFE_METHODS
from sparewell.edge.sign_in import require_scope
from sparewell.edge.unit_of_work import Again, in_page_work
from sparewell.errors import Refusal
from sparewell.work import Actor

View = Callable[..., Any]
# What a page hands to Flask: what it shows, with a status where that is not 200, or a redirect.
Shown = str | tuple[str, int] | AnyResponse
Row = TypeVar("Row")
Locate = Callable[[Refusal], Mapping[str, str]]

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
CHANGED_MEANWHILE = "Somebody changed this meanwhile. This is how it is now; send it again."
_SEE_OTHER, _UNAUTHORIZED, _FORBIDDEN, _UNAVAILABLE = 303, 401, 403, 503
_PRECONDITION_FAILED, _UNPROCESSABLE = 412, 422


class PageBlueprint(flask.Blueprint):
    """A blueprint whose pages run in a unit of work, but for those that stand by themselves."""

    def add_url_rule(
        self,
        rule: str,
        endpoint: str | None = None,
        view_func: View | None = None,
        provide_automatic_options: bool | None = None,  # noqa: FBT001 - Flask's signature
        **options: Any,
    ) -> None:
        """Register a page."""
        if view_func is None:
            raise TypeError("an address needs a page")
        if not view_func.__dict__.get("stands_by_itself"):
            view_func = in_page_work(view_func, form_key)
        super().add_url_rule(rule, endpoint, view_func, provide_automatic_options, **options)


blueprint = PageBlueprint("bench", __name__, template_folder="templates", static_folder=None)
wording.add_to(blueprint)


def by_itself(view: View) -> View:
    """Mark a page that needs no unit of work, or opens one of its own."""
    view.__dict__["stands_by_itself"] = True
    return view


def open_to_all(view: View) -> View:
    """Mark a page that is shown without a session; it stands by itself."""
    view.__dict__["open_to_all"] = True
    return by_itself(view)


def takes_files(limit: str) -> Callable[[View], View]:
    """Mark a page whose form brings files, up to the limit that a variable sets."""

    def mark(view: View) -> View:
        view.__dict__[RAW_LIMIT] = limit
        return view

    return mark


def enter(view: View, endpoint: str) -> Response | None:
    """Find out whose session it is; return the answer instead of the page where there is none."""
    secret = request.cookies.get(COOKIE, "")
    with reading() as session:
        present = sessions.find_session(session, secret, services().clock())
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
    if not is_ours:
        return make_response(go_on(request.full_path, _kept()), _UNAUTHORIZED)
    require_scope(g.sparewell_caller.scope, endpoint)
    return None


def _kept() -> list[tuple[str, str]]:
    """Return what goes along to the sign-in: what was typed, and the form's key."""
    key = request.form.get(FORM_KEY)
    return typed() if key is None else [*typed(), (FORM_KEY, key)]


def _sign_in_first() -> Response:
    if request.method in SAFE_METHODS:
        wanted = request.full_path if request.query_string else request.path
        return see("/sign-in", to=wanted)
    page = show("sign_in.html", to=request.full_path.rstrip("?"), kept=_kept(), is_over=True)
    return make_response(page, _UNAUTHORIZED)


def go_on(to: str, kept: Iterable[tuple[str, str]]) -> str:
    """Return the page that sends a form once more, with everything that was typed into it."""
    held = list(kept)
    g.bench_form_key = dict(held).get(FORM_KEY)
    return show("go_on.html", to=inside(to), kept=[each for each in held if each[0] != FORM_KEY])


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
        form_key=(g.get("bench_form_key") or secrets.token_urlsafe(16))[:LONGEST_KEY],
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


def form_key() -> str | None:
    """Return the key under which a form is done once, however often it is sent.

    All forms of a page carry one key; which of them was sent, and with what, makes the difference.
    """
    key = request.form.get(FORM_KEY, "")
    if not key:
        return None
    pictures = [hashlib.sha256(file.read()).hexdigest() for file in request.files.values()]
    for file in request.files.values():
        file.seek(0)
    whole = repr((sorted(typed()), pictures)).encode("utf-8", "surrogatepass")
    digest = hashlib.sha256(whole).hexdigest()
    return f"{hashlib.sha256(key.encode('utf-8', 'surrogatepass')).hexdigest()}-{digest}"


@contextmanager
def or_again(page: Callable[[Refusal], Shown]) -> Iterator[None]:
    """Show a page again, with the reason, where what is done here is refused."""
    try:
        yield
    except Refusal as refusal:
        raise Again(partial(page, refusal)) from refusal


@contextmanager
def or_form_again(
    page: Callable[[Typed], Shown], form: Typed, located: Locate = by_field
) -> Iterator[None]:
    """Show the page of a form again, with each refusal at its field."""
    with or_again(lambda refusal: page(form.refused(refusal, located(refusal)))):
        yield


def refuse(
    page: Callable[[Typed], Shown],
    form: Typed,
    faults: Mapping[str, str],
    problem: str = "",
    status: int = _UNPROCESSABLE,
) -> NoReturn:
    """Show the page of a form again, with what the page says against it by itself."""
    raise Again(partial(page, form.with_faults(faults, status, problem)))


def refuse_late(page: Callable[[Typed], Shown], form: Typed, tag: str) -> None:
    """Show the page of a form again where what it showed was changed since."""
    if form["tag"] != tag:
        refuse(page, form, {}, CHANGED_MEANWHILE, _PRECONDITION_FAILED)


def one_page(
    statement: Select[Row], row_id: InstrumentedAttribute[int], rows: int
) -> tuple[Sequence[Row], str]:
    """Return the rows of a list behind the one that the address of the page names.

    Beside them what the address of the following page names; nothing where there is none.
    """
    arguments = {"limit": rows, "after": row_of(request.args.get("after", ""))}
    page = page_of(work().session, statement, row_id, arguments)
    return page.rows, str(getattr(page.rows[-1], row_id.key)) if page.next else ""


def see(path: str, *, at: str = "", **query: object) -> Response:
    """Send the browser on to the page that shows what was done, and to the place on it."""
    wanted = wording.link(path, **query) + (f"#{at}" if at else "")
    return make_response(redirect(wanted, _SEE_OTHER))


def as_page(response: Response) -> Response:
    """Say to a person, on a page, what a program would be told in a problem document."""
    is_ours = request.blueprint == blueprint.name
    if response.mimetype != PROBLEM_TYPE or not (is_ours or is_a_person()):
        return response
    page = make_response(_refused(response.status_code, response.get_json(force=True)))
    for name in ("Allow", "Retry-After"):
        if name in response.headers:
            page.headers[name] = response.headers[name]
    return be_careful(page)


def _refused(status: int, problem: Mapping[str, Any]) -> tuple[str, int]:
    """Show a refusal that no page knew better than to show by itself."""
    parts = _came_from()
    to = inside(f"{parts.path}?{parts.query}" if parts.query else parts.path)
    is_form = request.method not in SAFE_METHODS
    is_unknown = is_form and status == _UNAVAILABLE
    g.bench_form_key = request.form.get(FORM_KEY) if is_unknown else None
    page = show(
        "refused.html",
        problem=problem,
        back=to or "/",
        again=typed() if is_unknown or (is_form and status == _FORBIDDEN) else None,
        is_unknown=is_unknown,
        changed_nothing=is_form,
    )
    return page, status


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
