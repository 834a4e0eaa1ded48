"""What a view needs that takes long: it is worked out before the transaction, with nothing locked.

A view says so with `@beforehand(prepare)`. `prepare` is handed a unit of work that only reads, and
what the address names; the view takes what it returned from :func:`found_beforehand`, where a
refusal is raised, too, so that it is answered and kept like any other of that view. What may have
changed between the two is for the view to look at again.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import g
from werkzeug.exceptions import HTTPException

from sparewell.database.transaction import read
from sparewell.edge.context import caller, services
from sparewell.errors import Refusal
from sparewell.work import Work

View = Callable[..., Any]
Prepare = Callable[..., Any]


def beforehand(prepare: Prepare) -> Callable[[View], View]:
    """Mark a view as one for which something is worked out first."""

    def mark(view: View) -> View:
        view.__dict__["prepares_beforehand"] = prepare
        return view

    return mark


def prepare_for(view: View, arguments: dict[str, Any]) -> None:
    """Work out what a view needs, where it needs something."""
    prepare: Prepare | None = view.__dict__.get("prepares_beforehand")
    if prepare is None:
        return
    found = services()
    with read(found.database) as session:
        work = Work(session, found.clock(), caller().actor, found.declared)
        try:
            g.sparewell_beforehand = prepare(work, **arguments)
        except (Refusal, HTTPException) as refusal:
            g.sparewell_beforehand = refusal


def found_beforehand() -> Any:
    """Return what was worked out for this view, or raise its refusal."""
    found = g.sparewell_beforehand
    if isinstance(found, Refusal | HTTPException):
        raise found
    return found
