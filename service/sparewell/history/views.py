"""The history of a pen over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of_rows
from sparewell.history.operations import history, jobs_of
from sparewell.history.schemas import EventPageSchema
from sparewell.pens import operations as pens

blueprint = Blueprint("history", __name__, url_prefix="/v1", tag="under_way")


@blueprint.route("/pens/<identifier:number>/history")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, EventPageSchema)
def list_history(arguments: dict[str, Any], number: str) -> Any:
    """List everything that ever happened to a pen, the earliest first."""
    pen = pens.find_pen(work().session, number)
    events = history(work(), pen, jobs_of(work().session, pen))
    return answer("history", page_of_rows(events, arguments))
