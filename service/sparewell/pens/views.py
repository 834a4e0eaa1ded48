"""Pens and their readings over HTTP."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.pens import operations as pens
from sparewell.pens.schemas import (
    ChangedPenSchema,
    NewPenSchema,
    NewReadingsSchema,
    PenArguments,
    PenPageSchema,
    PenSchema,
)
from sparewell.pens.tables import Pen

blueprint = Blueprint("pens", __name__, url_prefix="/v1", tag="repairs")
_THIS_NUMBER = {"number": "$response.body#/number"}
_FROM_A_PEN = {
    "read": Link("get", "/v1/pens/{number}", _THIS_NUMBER),
    "change": Link("patch", "/v1/pens/{number}", _THIS_NUMBER),
    "measure": Link("post", "/v1/pens/{number}/readings", _THIS_NUMBER),
    "alike": Link("get", "/v1/pens/{number}/alike", _THIS_NUMBER),
    "contents": Link("get", "/v1/pens/{number}/contents", _THIS_NUMBER),
    "history": Link("get", "/v1/pens/{number}/history", _THIS_NUMBER),
    "repair": Link("post", "/v1/jobs", {}, {"pen": "$response.body#/number"}),
}


@blueprint.route("/pens", methods=["POST"])
@blueprint.arguments(NewPenSchema)
@blueprint.etag
@blueprint.response(201, PenSchema, links=_FROM_A_PEN)
def add_pen(body: dict[str, Any]) -> Any:
    """Put a pen on the bench."""
    pen = pens.create_pen(work(), pens.NewPen.said(body))
    return pens.shown_pen(work(), pen), location("pens", pen.number)


@blueprint.route("/pens")
@blueprint.arguments(PenArguments, location="query")
@blueprint.response(200, PenPageSchema)
def list_pens(arguments: dict[str, Any]) -> Any:
    """List the pens, oldest first."""
    statement = select(Pen)
    if "filling_system" in arguments:
        statement = statement.where(Pen.filling_system == arguments["filling_system"])
    page = page_of(work().session, statement, Pen.id, arguments)
    return answer("pens", page, lambda rows: [pens.shown_pen(work(), row) for row in rows])


@blueprint.route("/pens/<identifier:number>")
@blueprint.etag
@blueprint.response(200, PenSchema)
def get_pen(number: str) -> Any:
    """Return one pen with all its readings."""
    return pens.shown_pen(work(), pens.find_pen(work().session, number))


@blueprint.route("/pens/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedPenSchema)
@blueprint.etag
@blueprint.response(200, PenSchema)
def patch_pen(body: dict[str, Any], number: str) -> Any:
    """Change what is said of a pen."""
    pen = locked(work().session, pens.find_pen(work().session, number))
    blueprint.check_etag(pens.shown_pen(work(), pen), PenSchema)
    return pens.shown_pen(work(), pens.change_pen(work(), pen, body))


@blueprint.route("/pens/<identifier:number>/readings", methods=["POST"])
@blueprint.arguments(NewReadingsSchema)
@blueprint.etag
@blueprint.response(201, PenSchema, links=_FROM_A_PEN)
def add_readings(body: dict[str, Any], number: str) -> Any:
    """Add readings to a pen; the earlier ones stay, and one of them may be corrected."""
    pen = locked(work().session, pens.find_pen(work().session, number))
    raw = body.pop("readings")
    return pens.shown_pen(work(), pens.add_readings(work(), pen, raw, **body))
