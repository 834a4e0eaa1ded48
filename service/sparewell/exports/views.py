"""Taking everything out: lists as CSV, and all of it in one JSON document."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from flask import Response
from sqlalchemy import Connection

from sparewell.database.copying import glimpse
from sparewell.database.engine import Database
from sparewell.database.migrate import Owner, status
from sparewell.edge.api import Blueprint
from sparewell.edge.context import services
from sparewell.edge.scopes import scope
from sparewell.errors import NotFound
from sparewell.exports.everything import tables_kept, written
from sparewell.exports.listings import LISTINGS, lines_of

CSV_TYPE = "text/csv; charset=utf-8"
JSON_TYPE = "application/json"


def export_blueprint(owners: Sequence[Owner]) -> Blueprint:
    """Return the blueprint that takes out the tables of these owners."""
    blueprint = Blueprint("exports", __name__, url_prefix="/v1", tag="export")
    tables = tables_kept(owners)

    @blueprint.route("/export/<identifier:plural>.csv")
    @blueprint.doc(responses={200: _file("the list", "text/csv")})
    def export_list(plural: str) -> Any:
        """Return a whole list as CSV, as it is at one moment."""
        listing = LISTINGS.get(plural)
        if listing is None:
            known = ", ".join(LISTINGS)
            raise NotFound(f"there is no list {plural!r} to be exported; there are {known}")
        lines = _from_one_moment(
            services().database, lambda connection: lines_of(connection, listing)
        )
        return _download(lines, f"{plural}.csv", CSV_TYPE)

    @blueprint.route("/export.json")
    @blueprint.doc(responses={200: _file("the document", JSON_TYPE)})
    @scope("admin")
    def export_everything() -> Any:
        """Return everything there is but the keys to the service, as it is at one moment."""
        found = services()
        revisions = {each.owner: each.present for each in status(found.database, owners)}
        made_at = found.clock()
        lines = _from_one_moment(
            found.database, lambda connection: written(connection, tables, revisions, made_at)
        )
        return _download(lines, "everything.json", JSON_TYPE)

    return blueprint


def _file(what: str, media_type: str) -> dict[str, Any]:
    content: dict[str, Any] = {media_type: {"schema": {}}}
    if media_type != JSON_TYPE:
        content = {media_type: {"schema": {"type": "string"}}}
    return {"description": what, "content": content}


def _from_one_moment(
    database: Database, lines: Callable[[Connection], Iterator[str]]
) -> Iterator[bytes]:
    """Give lines as they are sent; meanwhile others go on writing, unseen."""
    with glimpse(database) as connection:
        for some in lines(connection):
            yield some.encode()


def _download(lines: Iterator[bytes], name: str, media_type: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(lines, content_type=media_type, headers=headers)
