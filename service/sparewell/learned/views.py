"""What a workshop has learned, over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.learned.operations import learned
from sparewell.learned.schemas import LearnedSchema

blueprint = Blueprint("learned", __name__, url_prefix="/v1", tag="under_way")


@blueprint.route("/learned")
@blueprint.response(200, LearnedSchema)
def get_learned() -> Any:
    """Hold outcomes against the margins at fitting, by lot, material, glue and months."""
    return learned(work())
