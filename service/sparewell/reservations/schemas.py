"""What reservations look like in JSON."""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from sparewell.database.numbers import JOB_PREFIX
from sparewell.edge.description import Described, Description, ShownSchema
from sparewell.edge.fields import (
    Flag,
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
    settled = Described(fields.Integer(), export="settled")
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
    pinned = Described(
        Flag(metadata={"description": "whether it stays, whoever else wants its pieces"}),
        change=True,
        export="pinned",
    )
    moved_to = Described(
        fields.Integer(metadata={"description": "the reservation that took its place"}),
        nullable=True,
        export="moved_to",
        kept=("moved_to_id",),
    )
    moved_for = Described(
        NumberOf(JOB_PREFIX, metadata={"description": "the job that it made room for"}),
        nullable=True,
        export="moved_for",
        kept=("moved_for_id",),
    )


ChangedReservationSchema = ReservationDescription.change_schema("ChangedReservation")
ReservationSchema = ReservationDescription.shows("Reservation")


class MovedSchema(ShownSchema):
    """A promise that moved aside: its pieces were replaced by others for the same need.

    `moved_for` is the job that wanted its pieces; null where all jobs were planned together.
    """

    reservation = fields.Integer(required=True)
    job = NumberOf(JOB_PREFIX, required=True, attribute="job_id")
    lot = fields.Integer(required=True, attribute="lot_id")
    moved_to = fields.Integer(required=True)
    to_lot = fields.Integer(required=True, attribute="to_lot_id")
    moved_for = NumberOf(JOB_PREFIX, required=True, allow_none=True, attribute="moved_for_id")
    at = Moment(required=True)


class ReservationArguments(PageArguments):
    """How the list of reservations may be narrowed."""

    lot = row_id_argument()
    job = Text(longest=40)
    state = fields.String(validate=validate.OneOf(tuple(ReservationState)))


ReservationPageSchema = page_schema("reservations", ReservationSchema)
