"""What reservations look like in JSON."""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from sparewell.database.numbers import JOB_PREFIX
from sparewell.edge.description import Described, Description
from sparewell.edge.fields import (
    Moment,
    NumberOf,
    Text,
    free_text,
    note,
    pieces,
    row_id_argument,
)
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
from sparewell.measure.length import millimetres
from sparewell.reservations.tables import ReservationState


class VerbSchema(Schema):
    """How many pieces, and why; without a quantity all that are still promised."""

    quantity = pieces()
    note = note()


class UseSchema(VerbSchema):
    """How many pieces are fitted, and what they are glued with where that is not the job's glue."""

    glue = free_text(200)


class KeptMargins(fields.Dict):
    """Margins as a reservation keeps them: lengths are shown in millimetres, numbers as numbers."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> Any:
        shown = {
            name: millimetres(each) if isinstance(each, int) else float(each)
            for name, each in value.items()
        }
        return super()._serialize(shown, attr, obj, **options)  # type: ignore[no-untyped-call]


class ReservationDescription(Description):
    """Pieces promised to a job, and what became of them."""

    id = Described(fields.Integer(), export="id")
    lot = Described(fields.Integer(), export="lot", kept=("lot_id",))
    job = Described(NumberOf(JOB_PREFIX), export="job", kept=("job_id",))
    need = Described(fields.Integer(), nullable=True, export="need", kept=("need_id",))
    goes_with = Described(
        fields.Integer(
            metadata={"description": "the reservation whose piece this one's is fixed in"}
        ),
        nullable=True,
        export="goes with",
        kept=("goes_with_id",),
    )
    quantity = Described(fields.Integer(), export="quantity")
    state = Described(
        fields.String(validate=validate.OneOf(tuple(ReservationState))),
        export="state",
        kept=("ended_as",),
        read="state",
    )
    promised = Described(fields.Integer(), export="promised")
    in_tray = Described(fields.Integer(), export="in_tray")
    used = Described(fields.Integer(), export="used")
    released = Described(fields.Integer(), export="released")
    spoiled = Described(fields.Integer(), export="spoiled")
    lapsed = Described(fields.Integer(), export="lapsed")
    verdict = Described(fields.String(), nullable=True, export="verdict")
    why = Described(fields.String(), nullable=True, export="why")
    override = Described(
        fields.String(
            metadata={"description": "why a person took a piece that the judgement refuses"}
        ),
        nullable=True,
    )
    calculator = Described(
        fields.String(metadata={"description": "what judged the piece when it was promised"}),
        nullable=True,
        export="calculator",
    )
    margins = Described(
        KeptMargins(keys=fields.String(), values=fields.Raw(metadata={"type": "number"}))
    )
    glue = Described(
        fields.String(metadata={"description": "where it differs from the glue of its job"}),
        export="glue",
    )
    note = Described(fields.String(), export="note")
    actor = Described(fields.String(), export="actor")
    person = Described(fields.String(), nullable=True, export="person")
    created_at = Described(Moment(), export="created_at")
    expires_at = Described(Moment(), export="expires_at")


ReservationSchema = ReservationDescription.shows("Reservation")


class ReservationArguments(PageArguments):
    """How the list of reservations may be narrowed."""

    lot = row_id_argument()
    job = Text(longest=40)
    state = fields.String(validate=validate.OneOf(tuple(ReservationState)))


ReservationPageSchema = page_schema("reservations", ReservationSchema)
