"""Every page of the bench, under one roof."""

from __future__ import annotations

from flask import Response, current_app, request

from sparewell.bench import (  # noqa: F401 - each registers its pages
    bags,
    donors,
    drawers,
    find,
    jobs,
    labels,
    measure,
    orders,
    outcomes_learned,
    pens,
    photographs,
    receive,
    sign_in,
    trade_settings,
)
from sparewell.bench.pages import as_page, blueprint, enter, is_a_person

__all__ = ["as_page", "blueprint", "enter_page", "is_page"]


def is_page() -> bool:
    """Whether the present request is for a page, and not for the API."""
    return request.blueprint == blueprint.name or (request.endpoint is None and is_a_person())


def enter_page() -> Response | None:
    """Let whoever is signed in have the page; anyone else is asked to sign in."""
    if request.endpoint is None:
        return None
    return enter(current_app.view_functions[request.endpoint], request.endpoint)
