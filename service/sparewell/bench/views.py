"""Every page of the bench, under one roof."""

from __future__ import annotations

from flask import Response, current_app, request

from sparewell.bench import measure, sign_in
from sparewell.bench.pages import blueprint, enter

PAGES = (measure, sign_in)

__all__ = ["blueprint", "enter_page", "is_page"]


def is_page() -> bool:
    """Whether the present request is for a page, and not for the API."""
    return request.blueprint == blueprint.name


def enter_page() -> Response | None:
    """Let whoever is signed in have the page; anyone else is asked to sign in."""
    answer: Response | None = enter(current_app.view_functions[str(request.endpoint)])
    return answer
