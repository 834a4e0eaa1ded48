"""The number of a request: in its answer, in its problem document, and in the log.

Whoever reports a refusal or a failure reads it out, and the log has a line with the same number.
"""

from __future__ import annotations

import secrets

from flask import has_request_context, request

HEADER = "Sparewell-Request"
ENVIRON_KEY = "sparewell.request_number"
_BYTES = 6


def new_request_number() -> str:
    """Return a number that no other request of these years has."""
    return secrets.token_hex(_BYTES)


def present_request_number() -> str | None:
    """Return the number of the request that is being answered, if one is."""
    return request.environ.get(ENVIRON_KEY) if has_request_context() else None
