"""What a view needs that takes long: it is worked out before the transaction, with nothing locked.

A view says so with `@beforehand(prepare)`. `prepare` is handed a unit of work that only reads, and
what the address names; the view takes what it returned from :func:`found_beforehand`, where a
refusal is raised, too, so that it is answered and kept like any other of that view. What may have
changed between the two is for the view to look at again: it raises :class:`Stale`, and all is
prepared anew. Where `prepare` raises :class:`Due`, that is written first, by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import g
from sqlalchemy.orm import Session
from werkzeug.exceptions import HTTPException

from sparewell.edge.context import caller, services
from sparewell.edge.reading import reading
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


def is_prepared(view: View) -> bool:
    """Whether something is worked out first for a view."""
    return "prepares_beforehand" in view.__dict__


def prepare_for(view: View, arguments: dict[str, Any]) -> None:
    """Work out what a view needs, where it needs something. Raises :class:`Due`."""
    prepare: Prepare | None = view.__dict__.get("prepares_beforehand")
    if prepare is None:
        return
    with reading() as session:
        try:
            g.sparewell_beforehand = prepare(work_in(session), **arguments)
        except (Refusal, HTTPException) as refusal:
            g.sparewell_beforehand = refusal


def work_in(session: Session, *, is_last: bool = True) -> Work:
    """Return the unit of work of this request in a session."""
    found = services()
    return Work(session, found.clock(), caller().actor, found.declared, is_last)


def found_beforehand() -> Any:
    """Return what was worked out for this view, or raise its refusal."""
    found = g.sparewell_beforehand
    if isinstance(found, Refusal | HTTPException):
        raise found
    return found
