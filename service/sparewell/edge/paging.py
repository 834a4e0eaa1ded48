"""Lists, a page at a time, by keyset: `after` is the id of the last one seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

import marshmallow as ma
from flask import request
from marshmallow import fields, validate
from sqlalchemy import Select
from sqlalchemy.orm import InstrumentedAttribute, Session

from sparewell.edge.fields import HIGHEST_ID, WholeNumberArgument
from sparewell.edge.schema import Schema

DEFAULT_LIMIT = 50
HIGHEST_LIMIT = 500


class PageArguments(Schema):
    """The two arguments of every list."""

    limit = WholeNumberArgument(
        load_default=DEFAULT_LIMIT,
        validate=validate.Range(1, HIGHEST_LIMIT, error=f"must be from 1 to {HIGHEST_LIMIT}"),
        error_messages={"invalid": f"must be a whole number from 1 to {HIGHEST_LIMIT}"},
    )
    after = WholeNumberArgument(
        load_default=0,
        validate=validate.Range(0, HIGHEST_ID, error="must come from a page's `next`"),
        error_messages={"invalid": "must come from a page's `next`"},
        metadata={"description": "comes from a page's `next`"},
    )


@dataclass(frozen=True)
class Page:
    """Some rows, and the path of the next ones, if there are any."""

    rows: Sequence[Any]
    next: str | None


def page_of(
    session: Session,
    statement: Select[Any],
    row_id: InstrumentedAttribute[int],
    arguments: dict[str, Any],
) -> Page:
    """Return one page of a statement, in the order of ids."""
    limit = arguments["limit"]
    statement = statement.where(row_id > arguments["after"]).order_by(row_id).limit(limit + 1)
    rows = session.scalars(statement).unique().all()
    if len(rows) <= limit:
        return Page(rows, None)
    rows = rows[:limit]
    return Page(rows, _next_after(getattr(rows[-1], row_id.key)))


def _next_after(last: int) -> str:
    return f"{request.path}?{urlencode({**request.args.to_dict(), 'after': last})}"


def page_of_rows(rows: Sequence[Any], arguments: dict[str, Any]) -> Page:
    """Return one page of a list that is at hand; `after` is how many were seen."""
    start = min(arguments["after"], len(rows))
    end = start + arguments["limit"]
    return Page(rows[start:end], _next_after(end) if end < len(rows) else None)


def page_schema(plural: str, item: type[ma.Schema]) -> type[Schema]:
    """Return the schema of a list: `{"<plural>": [...], "next": path or null}`."""
    members = {
        plural: fields.List(fields.Nested(item), required=True),
        "next": fields.String(required=True, allow_none=True),
    }
    name = item.__name__.removesuffix("Schema")
    return type(f"{name}PageSchema", (Schema,), {**members, "__doc__": f"A page of {plural}."})


def each(show: Callable[[Any], Any]) -> Callable[[Sequence[Any]], Sequence[Any]]:
    """Return what shows a list, thing by thing."""
    return lambda rows: [show(row) for row in rows]


def answer(
    plural: str, page: Page, show: Callable[[Sequence[Any]], Sequence[Any]] = lambda rows: rows
) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the body and the headers of a list; `show` is handed the whole of it."""
    body = {plural: show(page.rows), "next": page.next}
    return body, {"Link": f'<{page.next}>; rel="next"'} if page.next else {}
