"""Views that take a body as it is (a picture, a table) instead of JSON, each under its own limit.

A view says so once, with `@blueprint.raw_body(LIMIT, MEDIA_TYPES)`, where the limit is named by the
environment variable that sets it. Before the unit of work reads the first byte, the request's limit
is raised to that; every other view keeps `SPAREWELL_BODY_LIMIT`. What the bytes are, the view finds
out from the bytes: the media type that a client claims is for the document only. A repeat with an
`Idempotency-Key` is told from another request by the digest of the bytes, as everywhere.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from flask import current_app, request
from werkzeug.exceptions import RequestEntityTooLarge, UnsupportedMediaType

from sparewell.measure.wording import megabytes_text

RAW_LIMITS = "SPAREWELL_RAW_LIMITS"
# Where a view says which limit its body has.
RAW_LIMIT = "raw_body_limit"

View = Callable[..., Any]


def takes_raw_body(view: View, limit: str) -> View:
    """Mark a view as one that is handed the bytes of the body, as `body`."""

    @wraps(view)
    def run(*positional: Any, **named: Any) -> Any:
        return view(*positional, **named, body=request.get_data(cache=True))

    run.__dict__[RAW_LIMIT] = limit
    return run


def admit_raw_body(view: View) -> None:
    """Raise the limit of this request to that of its view, where the view takes a raw body."""
    limit: str | None = view.__dict__.get(RAW_LIMIT)
    if limit is None:
        return
    most_bytes: int = current_app.config[RAW_LIMITS][limit]
    if request.content_length is not None and request.content_length > most_bytes:
        raise RequestEntityTooLarge(
            f"what was sent is larger than {megabytes_text(most_bytes)}, the most that is taken "
            f"here: send a smaller file, or raise the limit {limit} of {most_bytes} bytes"
        )
    if request.content_encoding not in {None, "", "identity"}:
        raise UnsupportedMediaType("send the body as it is, without Content-Encoding")
    request.max_content_length = most_bytes


def documented(media_types: tuple[str, ...]) -> dict[str, Any]:
    """Return how the document describes a body of one of these types."""
    content = {name: {"schema": {"type": "string", "format": "binary"}} for name in media_types}
    return {"required": True, "content": content}
