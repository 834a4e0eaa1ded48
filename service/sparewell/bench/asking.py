"""How a page asks the API, in the same process: it can do what a script can, and nothing else.

So every rule, every refusal and every repeated form is dealt with in one place. What a page asks in
one go is one request, and one unit of work.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from flask import Response, current_app, g, request

from sparewell.bench.wording import bags
from sparewell.edge.context import caller
from sparewell.edge.request_number import ENVIRON_KEY
from sparewell.edge.sign_in import CALLER_KEY
from sparewell.edge.unit_of_work import KEY_HEADER

PAGE_ROWS = 500
_FIRST_REFUSAL, _UNAVAILABLE = 400, 503


@dataclass(frozen=True)
class Answer:
    """What the API said: a document, and the tag of what it shows."""

    document: Any
    tag: str | None


class Refused(Exception):  # noqa: N818 - an answer, not a fault
    """The API refused; its problem document says why, and where."""

    def __init__(self, status: int, problem: Mapping[str, Any]) -> None:
        self.detail = bags(str(problem.get("detail", "")))
        super().__init__(self.detail)
        self.status = status
        self.errors: list[dict[str, Any]] = [
            {**error, "detail": bags(str(error["detail"]))} for error in problem.get("errors", [])
        ]

    def by_field(self) -> dict[str, str]:
        """Return what was said of each member of the body, by its first step."""
        found: dict[str, str] = {}
        for error in self.errors:
            pointer = error.get("pointer") or error.get("parameter") or ""
            found.setdefault(pointer.lstrip("/"), error["detail"])
            found.setdefault(pointer.lstrip("/").split("/")[0], error["detail"])
        return found


def exchange(
    method: str,
    path: str,
    *,
    data: bytes | None = None,
    media_type: str = "application/json",
    query: Mapping[str, Any] | None = None,
    key: str | None = None,
    tag: str | None = None,
) -> Response:
    """Send a request to the API as whoever is signed in; return its answer.

    Raises :class:`Refused`.
    """
    headers = {} if data is None else {"Content-Type": media_type}
    if key:
        headers[KEY_HEADER] = key
    if tag:
        headers["If-Match"] = tag
    app = current_app._get_current_object()  # type: ignore[attr-defined]  # noqa: SLF001 - the app itself
    inside = {
        CALLER_KEY: caller(),
        ENVIRON_KEY: request.environ.get(ENVIRON_KEY),
        "REMOTE_ADDR": request.remote_addr or "",
    }
    context = app.test_request_context(
        path,
        method=method,
        # An address that brings its own query, as the next page's does, takes none beside it.
        query_string=urlencode({k: v for k, v in (query or {}).items() if v not in {None, ""}})
        or None,
        data=data,
        headers=headers,
        environ_overrides=inside,
    )
    with app.app_context(), context:
        response: Response = app.full_dispatch_request()
        response.get_data()
    if response.status_code == _UNAVAILABLE:
        g.bench_outcome_unknown = True
    if response.status_code >= _FIRST_REFUSAL:
        raise Refused(response.status_code, json.loads(response.get_data(as_text=True)))
    return response


def ask(method: str, path: str, body: Mapping[str, Any] | None = None, **more: Any) -> Answer:
    """Ask the API for a document, or to do something. Raises :class:`Refused`."""
    data = None if body is None else json.dumps(body).encode()
    response = exchange(method, path, data=data, **more)
    text = response.get_data(as_text=True)
    return Answer(json.loads(text) if text else {}, response.headers.get("ETag"))


def change(path: str, body: Mapping[str, Any], tag: str | None = None) -> Answer:
    """Change something, as it was when its tag was read; without a tag, as it is now."""
    return ask("PATCH", path, body, tag=tag or ask("GET", path).tag)


def get(path: str, **query: Any) -> Any:
    """Return a document of the API. Raises :class:`Refused`."""
    return ask("GET", path, query=query).document


def every(path: str, plural: str, **query: Any) -> list[Any]:
    """Return a whole list of the API, page by page to its end."""
    page = get(path, limit=PAGE_ROWS, **query)
    rows: list[Any] = page[plural]
    while page["next"] is not None:
        page = ask("GET", page["next"]).document
        rows += page[plural]
    return rows


def latest_group(**query: Any) -> str:
    """Return what a notice names to undo the latest of these movements; nothing without any."""
    rows = every("/v1/movements", "movements", **query)
    return f"group-{rows[-1]['group']}" if rows else ""


def one_page(path: str, plural: str, rows: int) -> tuple[list[Any], str]:
    """Return the rows of a list behind the one that the address of the page names.

    Beside them what the address of the following page names; nothing where there is none.
    """
    after = request.args.get("after", "")
    page = get(path, limit=rows, after=after if after.isdecimal() else None)
    return page[plural], page["next"].rpartition("after=")[2] if page["next"] else ""


def address(*steps: str | int) -> str:
    """Return an address of the API from its steps, each of them escaped."""
    return "/v1/" + "/".join(quote(str(step), safe="") for step in steps)
