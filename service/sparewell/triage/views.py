"""Which of a batch of pens to open first, over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.donors.tables import Donor
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.pens.operations import pens_numbered
from sparewell.pens.tables import Pen
from sparewell.purchases import operations as purchases
from sparewell.triage.needs import LeftOut
from sparewell.triage.operations import triage
from sparewell.triage.schemas import TriageArguments, TriageSchema

blueprint = Blueprint("triage", __name__, url_prefix="/v1", tag="trade")


@blueprint.route("/purchases/<row:purchase_id>/triage")
@blueprint.response(200, TriageSchema)
def triage_purchase(purchase_id: int) -> Any:
    """Say which pens of a purchase to open first: what each lacks, costs and fetches."""
    session = work().session
    purchase = purchases.find_purchase(session, purchase_id)
    things = purchases.bought_in(session, [purchase])[purchase.id]
    numbers = [thing.number for thing in things if isinstance(thing, Pen)]
    kept = [
        LeftOut(thing.number, "it is kept to be stripped")
        for thing in things
        if isinstance(thing, Donor)
    ]
    return triage(work(), pens_numbered(session, numbers), kept)


@blueprint.route("/triage")
@blueprint.arguments(TriageArguments, location="query")
@blueprint.response(200, TriageSchema)
def triage_pens(arguments: dict[str, Any]) -> Any:
    """Say which of some pens to open first: what each lacks, costs and fetches."""
    numbers = [each.strip() for each in arguments["pens"].split(",")]
    return triage(work(), pens_numbered(work().session, numbers))
