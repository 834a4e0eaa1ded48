"""The ledger over HTTP."""

from __future__ import annotations

from datetime import UTC, datetime, time
from typing import Any

from sqlalchemy import select

from sparewell.database.numbers import JOB_PREFIX, id_of
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.ledger.schemas import MovementArguments, MovementPageSchema
from sparewell.ledger.tables import Act, Movement

blueprint = Blueprint("ledger", __name__, url_prefix="/v1", tag="stock")


@blueprint.route("/movements")
@blueprint.arguments(MovementArguments, location="query")
@blueprint.response(200, MovementPageSchema)
def list_movements(arguments: dict[str, Any]) -> Any:
    """List the ledger, oldest line first."""
    statement = select(Movement)
    for name, column in (
        ("lot", Movement.lot_id),
        ("reservation", Movement.reservation_id),
        ("group", Movement.act_id),
        ("verb", Movement.verb),
    ):
        if name in arguments:
            statement = statement.where(column == arguments[name])
    if "job" in arguments:
        statement = statement.where(Movement.job_id == id_of(JOB_PREFIX, arguments["job"]))
    if "since" in arguments:
        begins = datetime.combine(arguments["since"], time(), UTC)
        statement = statement.join(Act, Act.id == Movement.act_id).where(Act.at >= begins)
    page = page_of(work().session, statement, Movement.id, arguments)
    return answer("movements", page)
