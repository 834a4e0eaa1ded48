"""A picture as it is sent: with its tag, and so that nothing in it may run or fetch."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from flask import Response, request
from werkzeug.wrappers import Response as AnyResponse

# The bytes of an id never change, but whoever has signed out must not see them: the tag is asked
# about each time. They come from strangers: nothing in them may run or fetch.
_HEADERS: Final = {
    "Cache-Control": "private, no-cache",
    "Content-Security-Policy": "default-src 'none'; sandbox; frame-ancestors 'none'",
}


def picture_response(media_type: str, sha256: str, image: Callable[[], bytes]) -> AnyResponse:
    """Return a picture, or that it is the one which the browser has."""
    response = Response(mimetype=media_type, headers=_HEADERS)
    response.set_etag(sha256)
    if not request.if_none_match.contains_weak(sha256):
        response.set_data(image())
    return response.make_conditional(request)
