"""What tokens open: read looks and calculates, write changes, admin includes both."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

SCOPES = ("read", "write", "admin")
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

View = Callable[..., Any]


def scope(needed: str) -> Callable[[View], View]:
    """Mark a view as needing a scope other than its method's (read to read, write to change)."""

    def mark(view: View) -> View:
        view.__dict__["needed_scope"] = needed
        return view

    return mark


def guard(view: View) -> View:
    """Mark a view as one of ours, to be opened by its method's scope where no other is marked."""
    view.__dict__.setdefault("needed_scope", "")
    return view


def scope_needed(view: View, method: str) -> str | None:
    """Return the scope that opens a view; None for a view that was never marked."""
    marked: str | None = view.__dict__.get("needed_scope")
    if marked is None:
        return None
    return marked or ("read" if method in SAFE_METHODS else "write")


def allows(present: str, needed: str) -> bool:
    """Whether a scope includes another: read ⊂ write ⊂ admin."""
    return SCOPES.index(present) >= SCOPES.index(needed)
