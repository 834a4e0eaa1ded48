"""Kinds and parts over HTTP."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.catalogue.operations import (
    NewPart,
    create_part,
    find_part,
    shown_kind,
    shown_part,
)
from sparewell.catalogue.schemas import (
    KindPageSchema,
    NewPartSchema,
    PartArguments,
    PartPageSchema,
    PartSchema,
    SizesSchema,
    SizeTablePageSchema,
)
from sparewell.catalogue.tables import Part
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, each, page_of, page_of_rows
from sparewell.errors import NotFound
from sparewell.extend.calculation import dump_result
from sparewell.extend.declarations import SizeTable

blueprint = Blueprint("catalogue", __name__, url_prefix="/v1")
_THIS_PART = {"number": "$response.body#/number"}
_FROM_A_PART = {
    "read": Link("get", "/v1/parts/{number}", _THIS_PART),
    "change": Link("patch", "/v1/parts/{number}", _THIS_PART),
}


@blueprint.route("/kinds")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, KindPageSchema)
def list_kinds(arguments: dict[str, Any]) -> Any:
    """List the kinds of part that the loaded plugins declare."""
    rows = list(work().declared.kinds.values())
    return answer(
        "kinds", page_of_rows(rows, arguments), each(lambda kind: shown_kind(work().declared, kind))
    )


def _shown_table(table: SizeTable) -> dict[str, Any]:
    return {**vars(table), "plugin": work().declared.provider[f"size_tables/{table.name}"]}


@blueprint.route("/size-tables")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, SizeTablePageSchema)
def list_size_tables(arguments: dict[str, Any]) -> Any:
    """List the published tables of sizes."""
    rows = list(work().declared.size_tables.values())
    return answer(
        "size_tables",
        page_of_rows(rows, arguments),
        each(_shown_table),
    )


@blueprint.route("/size-tables/<identifier:name>")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, SizesSchema)
def get_size_table(arguments: dict[str, Any], name: str) -> Any:
    """Return the sizes of a published table, a page at a time, with their source."""
    table = work().declared.size_tables.get(name)
    if table is None:
        known = ", ".join(work().declared.size_tables)
        raise NotFound(f"there is no size table {name!r}; there are {known}")
    page = page_of_rows(table.rows, arguments)
    body, headers = answer("sizes", page, each(lambda row: dump_result(table.columns, row)))
    return _shown_table(table) | body, headers


@blueprint.route("/parts", methods=["POST"])
@blueprint.arguments(NewPartSchema)
@blueprint.etag
@blueprint.response(201, PartSchema, links=_FROM_A_PART)
def add_part(body: dict[str, Any]) -> Any:
    """Add a part to the catalogue."""
    part = create_part(work(), NewPart.said(body))
    return shown_part(work(), part), location("parts", part.number)


@blueprint.route("/parts")
@blueprint.arguments(PartArguments, location="query")
@blueprint.response(200, PartPageSchema)
def list_parts(arguments: dict[str, Any]) -> Any:
    """List the parts, oldest entry first."""
    statement = select(Part)
    for name in ("kind", "material"):
        if name in arguments:
            statement = statement.where(getattr(Part, name) == arguments[name])
    page = page_of(work().session, statement, Part.id, arguments)
    return answer("parts", page, lambda rows: [shown_part(work(), row) for row in rows])


@blueprint.route("/parts/<identifier:number>")
@blueprint.etag
@blueprint.response(200, PartSchema)
def get_part(number: str) -> Any:
    """Return one part."""
    return shown_part(work(), find_part(work().session, number))
