"""Filling systems over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, each, page_of_rows
from sparewell.filling_systems import operations as templates
from sparewell.filling_systems.operations import Found, ShownSystem
from sparewell.filling_systems.schemas import (
    ChangedFillingSystemSchema,
    FillingSystemPageSchema,
    FillingSystemSchema,
    NewFillingSystemSchema,
)

blueprint = Blueprint("filling_systems", __name__, url_prefix="/v1")
_THIS_NAME = {"name": "$response.body#/name"}
_FROM_A_SYSTEM = {
    "read": Link("get", "/v1/filling-systems/{name}", _THIS_NAME),
    "change": Link("patch", "/v1/filling-systems/{name}", _THIS_NAME),
}


def _shown(found: Found) -> ShownSystem:
    return templates.shown_system(work().declared, found)


@blueprint.route("/filling-systems")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, FillingSystemPageSchema)
def list_filling_systems(arguments: dict[str, Any]) -> Any:
    """List the filling systems, shipped and own: what each needs, and how it is read."""
    page = page_of_rows(templates.all_systems(work()), arguments)
    return answer("filling_systems", page, each(_shown))


@blueprint.route("/filling-systems", methods=["POST"])
@blueprint.arguments(NewFillingSystemSchema)
@blueprint.etag
@blueprint.response(201, FillingSystemSchema, links=_FROM_A_SYSTEM)
def add_filling_system(body: dict[str, Any]) -> Any:
    """Write down a filling system of the workshop's own, as the shipped ones are written."""
    found = templates.add_system(work(), templates.system_of(body))
    return _shown(found), location("filling-systems", found.system.name)


@blueprint.route("/filling-systems/<identifier:name>")
@blueprint.etag
@blueprint.response(200, FillingSystemSchema)
def get_filling_system(name: str) -> Any:
    """Return one filling system."""
    return _shown(templates.find_system(work(), name))


@blueprint.route("/filling-systems/<identifier:name>", methods=["PATCH"])
@blueprint.arguments(ChangedFillingSystemSchema)
@blueprint.etag
@blueprint.response(200, FillingSystemSchema)
def patch_filling_system(body: dict[str, Any], name: str) -> Any:
    """Change an own filling system, or retire it; jobs keep the copy they were opened with."""
    row = locked(work().session, templates.own_row(work().session, work().declared, name))
    found = templates.find_system(work(), name)
    blueprint.check_etag(_shown(found), FillingSystemSchema)
    return _shown(templates.change_system(work(), row, body))
