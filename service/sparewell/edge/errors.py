"""Problem documents (RFC 9457) for every error, and which refusal has which status.

A problem document has `type`, `title`, `status`, `detail`, and `request`, the number that the log
has too; where values are at fault, `errors` lists each with a JSON pointer (RFC 6901) into the
body, or the name of the query parameter.
"""

from __future__ import annotations

import http
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import marshmallow as ma
from flask import Response, json
from marshmallow import fields
from werkzeug.exceptions import HTTPException

from sparewell.edge.request_number import present_request_number
from sparewell.errors import Broken, Conflict, Impossible, NotFound, Problem, Refusal

PROBLEM_TYPE = "application/problem+json"
TYPE_PREFIX = "https://sparewell.invalid/problems/"

STATUS_OF = {NotFound: 404, Impossible: 422, Conflict: 409, Broken: 502}


# What the framework says of a status without knowing what this service asks for.
_SAID_BETTER = {
    http.HTTPStatus.PRECONDITION_REQUIRED: (
        "a change needs If-Match with the ETag that a GET of the same address gave"
    ),
    http.HTTPStatus.PRECONDITION_FAILED: (
        "somebody has changed it since: GET it again, and send the new ETag as If-Match"
    ),
    http.HTTPStatus.NOT_FOUND: "there is nothing at this address",
}


class ErrorItemSchema(ma.Schema):
    """One located fault."""

    class Meta:
        """Some faults say more, such as the jobs that hold a piece."""

        unknown = ma.INCLUDE

    pointer = fields.String(metadata={"description": "JSON pointer (RFC 6901) into the body"})
    parameter = fields.String(metadata={"description": "name of the query parameter"})
    detail = fields.String(required=True)


class ProblemSchema(ma.Schema):
    """A problem document (RFC 9457)."""

    type = fields.String(required=True, metadata={"format": "uri-reference"})
    title = fields.String(required=True)
    status = fields.Integer(required=True)
    detail = fields.String(required=True)
    request = fields.String(metadata={"description": "the number that the log has too"})
    errors = fields.List(fields.Nested(ErrorItemSchema))


def problem_response(
    status: int,
    detail: str,
    *,
    slug: str | None = None,
    errors: list[dict[str, Any]] | None = None,
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Return the answer with a problem document. `slug` names its type."""
    body = problem_document(
        status, detail, slug=slug, errors=errors, request_number=present_request_number()
    )
    return Response(
        json.dumps(body, separators=(",", ":")) + "\n",
        status,
        headers=dict(headers or {}),
        content_type=PROBLEM_TYPE,
    )


def problem_document(
    status: int,
    detail: str,
    *,
    slug: str | None = None,
    errors: list[dict[str, Any]] | None = None,
    request_number: str | None = None,
) -> dict[str, Any]:
    """Return a problem document. `slug` names the type; without one it is `about:blank`."""
    document: dict[str, Any] = {
        "type": f"{TYPE_PREFIX}{slug}" if slug else "about:blank",
        "title": http.HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    if request_number:
        document["request"] = request_number
    if errors:
        document["errors"] = errors
    return document


def status_of(refusal: Refusal) -> int:
    """Return the status with which a refusal is answered."""
    return next(code for kind, code in STATUS_OF.items() if isinstance(refusal, kind))


def checked(schema: ma.Schema, said: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a schema reads. Raises :class:`Impossible`, in the words of the API."""
    try:
        read: dict[str, Any] = schema.load(said)
    except ma.ValidationError as error:
        items = list(_validation_items({"json": error.messages}))
        problems = [Problem(item["pointer"], item["detail"]) for item in items]
        raise Impossible(_in_short(items), problems) from error
    return read


def refusal_response(refusal: Refusal) -> Response:
    """Return the problem document of a refusal by a room."""
    status = status_of(refusal)
    slug = "plugin-failed" if isinstance(refusal, Broken) else None
    return problem_response(
        status, refusal.detail, slug=slug, errors=[_item(problem) for problem in refusal.problems]
    )


def _item(problem: Problem) -> dict[str, Any]:
    return {"pointer": problem.pointer, "detail": problem.detail, **problem.more}


def http_response(error: HTTPException) -> Response:
    """Return the problem document of an error raised by the framework, its headers kept."""
    status = error.code or 500
    headers = {
        name: value
        for name, value in error.get_headers()
        if name.lower() not in {"content-type", "content-length"}
    }
    data = getattr(error, "data", None) or {}
    errors = list(_validation_items(data.get("messages", {})))
    said = _SAID_BETTER.get(http.HTTPStatus(status), error.description)
    detail = said or http.HTTPStatus(status).phrase
    if errors:
        detail = _in_short(errors)
    slug = "too-many-attempts" if status == http.HTTPStatus.TOO_MANY_REQUESTS else None
    return problem_response(status, detail, slug=slug, errors=errors, headers=headers)


def _in_short(errors: Sequence[Mapping[str, Any]]) -> str:
    """Return what several faults come to, in three sentences at most."""
    detail = "; ".join(_sentence(item) for item in errors[:3])
    return detail if len(errors) <= 3 else f"{detail}; and {len(errors) - 3} more"  # noqa: PLR2004


def _sentence(item: Mapping[str, Any]) -> str:
    where = item.get("parameter") or str(item.get("pointer", "")).lstrip("/")
    return f"{where}: {item['detail']}" if where else str(item["detail"])


def _validation_items(messages: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Turn marshmallow's nested messages into located faults."""
    for location, faults in messages.items():
        for path, sentence in _walk(faults, ()):
            if location == "query":
                yield {"parameter": path[0] if path else "", "detail": sentence}
            else:
                pointer = "".join(f"/{_escape(step)}" for step in path)
                yield {"pointer": pointer, "detail": sentence}


def _walk(faults: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    if isinstance(faults, Mapping):
        for name, inner in faults.items():
            step = () if name == "_schema" else (str(name),)
            yield from _walk(inner, (*path, *step))
    elif isinstance(faults, list):
        for inner in faults:
            yield from _walk(inner, path)
    else:
        yield path, str(faults)


def _escape(step: str) -> str:
    return step.replace("~", "~0").replace("/", "~1")
