"""What an evening looks like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.database.numbers import JOB_PREFIX
from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import (
    Moment,
    Money,
    NumberOf,
    WholeNumberArgument,
    identifier_text,
    row_id,
)
from sparewell.edge.fields import note as note_field
from sparewell.edge.schema import Schema
from sparewell.filling_systems.schemas import HowToReadSchema
from sparewell.jobs.schemas import MOST_MINUTES, whole_minutes
from sparewell.plans.chains import Moving
from sparewell.plans.schemas import MovingField, ToMakeSchema
from sparewell.plans.sharing import Weight
from sparewell.plans.wanting import WaitsFor
from sparewell.reorder.schemas import PlannedOrderSchema
from sparewell.reservations.schemas import MovedSchema, ReservationSchema
from sparewell.tonight.tables import EveningState

MOST_JOBS = 2000
_MOVES = {"mine": Moving.MINE, "any": Moving.ANY, "false": Moving.NONE}


def _weight() -> fields.String:
    meant = "must be count, promised or value"
    return fields.String(
        load_default=Weight.PROMISED.value,
        validate=validate.OneOf([each.value for each in Weight], error=meant),
        metadata={
            "description": "what comes first: as many pens as can be (`count`), those promised "
            "for a day (`promised`), or those whose agreed value is highest (`value`)"
        },
    )


class TonightArguments(Schema):
    """How the evening is weighed, how long it is, whose promises may move, and what is left out."""

    weight = _weight()
    minutes = WholeNumberArgument(
        validate=validate.Range(
            0, MOST_MINUTES, error=f"must be a whole number of minutes from 0 to {MOST_MINUTES}"
        ),
        error_messages={"invalid": f"must be a whole number of minutes from 0 to {MOST_MINUTES}"},
        metadata={"description": "how long the evening is, in minutes by hand"},
    )
    move = fields.String(
        load_default="mine",
        validate=validate.OneOf(list(_MOVES), error="must be mine, any or false"),
        metadata={"description": "whose promises may move aside"},
    )
    orders = fields.String(
        load_default="true",
        validate=validate.OneOf(["true", "false"], error="must be true or false"),
        metadata={"description": "whether what is to be ordered is worked out, too"},
    )

    @ma.post_load
    def _read(self, data: dict[str, Any], **_options: Any) -> dict[str, Any]:
        data["move"] = _MOVES[data["move"]]
        return data


class NewEveningSchema(Schema):
    """What a long evening is asked: as in the address of the short one."""

    weight = _weight()
    minutes = whole_minutes(least=0)
    move = MovingField(load_default=Moving.MINE)
    orders = fields.Boolean(
        load_default=True, truthy={True}, falsy={False}, error_messages={"invalid": "true or false"}
    )


class PromiseTonightSchema(NewEveningSchema):
    """`{}` for the whole evening, some jobs of it, or a plan just as it was shown."""

    jobs = fields.List(
        identifier_text(), validate=validate.Length(min=1, max=MOST_JOBS), load_default=None
    )
    plan = row_id(metadata={"description": "from `GET /v1/tonight`; at most a day old"})
    expires_in = whole_minutes(
        metadata={"description": "minutes after which what was not fetched lapses"}
    )
    note = note_field()

    class Meta:
        """An order is not promised."""

        exclude = ("orders",)

    @ma.validates_schema
    def one_of_both(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse to choose jobs out of a plan that was worked out as a whole."""
        if data.get("jobs") is not None and "plan" in data:
            raise ma.ValidationError("name jobs, or a plan, which has its own", "jobs")


class SettledSchema(ShownSchema):
    """A promise that moves to another lot, so that its pieces can be taken."""

    reservation = fields.Integer(required=True, attribute="reservation.id")
    job = NumberOf(JOB_PREFIX, required=True, attribute="reservation.job_id")
    quantity = fields.Integer(required=True)
    lot = fields.Integer(required=True, attribute="from_lot.id")
    to_lot = fields.Integer(required=True, attribute="lot.id")
    verdict = fields.String(required=True)
    why = fields.String(required=True)


class TakeSchema(ShownSchema):
    """Pieces that a need takes, and which promises move so that it can."""

    need = fields.Integer(required=True, attribute="need.id")
    kind = fields.String(required=True, attribute="need.kind")
    lot = fields.Integer(required=True, attribute="lot.id")
    part = fields.String(required=True, attribute="lot.part.number", allow_none=True)
    place = fields.String(required=True, attribute="lot.place.code")
    quantity = fields.Integer(required=True)
    verdict = fields.String(required=True)
    why = fields.String(required=True)
    settles = fields.List(fields.Nested(SettledSchema), required=True)


class _OfJobSchema(ShownSchema):
    job = fields.String(required=True, attribute="job.number")
    pen = fields.String(required=True, attribute="job.pen.number")
    called = fields.String(required=True, attribute="job.pen.called")
    promised_on = fields.Date(required=True, attribute="job.promised_on", allow_none=True)


class HeldTonightSchema(ShownSchema):
    """Pieces that are promised to a job already."""

    reservation = fields.Integer(required=True, attribute="reservation_id")
    need = fields.Integer(required=True, attribute="need_id", allow_none=True)
    lot = fields.Integer(required=True, attribute="lot.id")
    quantity = fields.Integer(required=True, attribute="promised")
    in_tray = fields.Integer(required=True)


class FinishableSchema(_OfJobSchema):
    """A pen that can be finished, or goes on as far as its glue lets it.

    `hands_on_minutes` are those until it has to wait; it is `ready_at` for the next step.
    """

    takes = fields.List(fields.Nested(TakeSchema), required=True)
    holds = fields.List(fields.Nested(HeldTonightSchema), required=True, attribute="held")
    hands_on_minutes = fields.Integer(required=True, attribute="pace.hands_on_minutes")
    waits_for = fields.String(required=True, attribute="pace.waits_for", allow_none=True)
    ready_at = Moment(required=True, attribute="pace.ready_at")


class WaitsSchema(ShownSchema):
    """One thing that a job waits for, and the readings that would settle it."""

    waits_for = fields.String(
        required=True,
        attribute="on",
        validate=validate.OneOf([each.value for each in WaitsFor]),
    )
    need = fields.Integer(required=True, attribute="need.id", allow_none=True)
    kind = fields.String(required=True, attribute="need.kind", allow_none=True)
    why = fields.String(required=True)
    readings = fields.List(fields.Nested(HowToReadSchema), required=True)
    decides = fields.String(required=True, allow_none=True)


class ShortSchema(ShownSchema):
    """So many pieces that a need lacks, and the jobs that what would do is for."""

    need = fields.Integer(required=True, attribute="need.id")
    kind = fields.String(required=True, attribute="need.kind")
    quantity = fields.Integer(required=True, attribute="pieces")
    why = fields.String(required=True)
    wanted_by = fields.List(fields.String(), required=True)


class WaitingJobSchema(_OfJobSchema):
    """A pen that has to wait."""

    waits = fields.List(fields.Nested(WaitsSchema), required=True)
    short = fields.List(fields.Nested(ShortSchema), required=True)


class FetchSchema(ShownSchema):
    """Pieces of a lot for a job."""

    job = fields.String(required=True, attribute="job.number")
    lot = fields.Integer(required=True, attribute="lot.id")
    quantity = fields.Integer(required=True)


class StopSchema(ShownSchema):
    """A place on the walk along the drawers, and what is taken there."""

    place = fields.String(required=True)
    pieces = fields.List(fields.Nested(FetchSchema), required=True)


class TonightLineSchema(ShownSchema):
    """So many pieces of a part, which jobs they finish, and what the packs cost."""

    part = fields.String(required=True)
    quantity = fields.Integer(required=True)
    frees = fields.List(fields.String(), required=True)
    cost = Money(required=True)


class RungSchema(ShownSchema):
    """The next amount, postage included, the jobs that it finishes, and the total so far."""

    cost = Money(required=True)
    jobs = fields.List(fields.String(), required=True)
    total = Money(required=True)


class MakingSchema(ShownSchema):
    """Pieces that are made out of what is in hand, and for which job."""

    job = fields.String(required=True)
    made = fields.Nested(ToMakeSchema, required=True, attribute="row")


class UnsoldSchema(ShownSchema):
    """What nobody is known to sell, and what to ask for."""

    job = fields.String(required=True)
    kind = fields.String(required=True)
    quantity = fields.Integer(required=True, attribute="pieces")
    ask_for = fields.List(fields.String(), required=True)


class LeastOrderSchema(ShownSchema):
    """The least order for the pens that wait for a part: whole, and rung by rung."""

    total = Money(required=True)
    proven = fields.Boolean(required=True, attribute="answer.is_proven")
    how = fields.String(required=True, attribute="answer.how")
    orders = fields.List(fields.Nested(PlannedOrderSchema), required=True)
    ladder = fields.List(fields.Nested(RungSchema), required=True)
    to_make = fields.List(fields.Nested(MakingSchema), required=True)
    unsold = fields.List(fields.Nested(UnsoldSchema), required=True)


def _waiting(on: WaitsFor) -> fields.Field[Any]:
    return fields.List(
        fields.Nested(WaitingJobSchema), required=True, attribute=f"evening.waiting.{on.value}"
    )


class TonightSchema(ShownSchema):
    """Which pens can be finished with what is in hand, and what the others wait for."""

    plan = fields.Integer(
        required=True, metadata={"description": "by which it can be promised, for a day"}
    )
    finishable = fields.List(
        fields.Nested(FinishableSchema), required=True, attribute="evening.finishable"
    )
    waiting_for_reading = _waiting(WaitsFor.READING)
    waiting_for_part = _waiting(WaitsFor.PART)
    waiting_for_decision = _waiting(WaitsFor.DECISION)
    waiting_for_owner = _waiting(WaitsFor.OWNER)
    not_tonight = fields.List(
        fields.Nested(FinishableSchema),
        required=True,
        attribute="evening.not_tonight",
        metadata={"description": "what lacks nothing but time: the evening's minutes are used up"},
    )
    walk = fields.List(fields.Nested(StopSchema), required=True, attribute="evening.walk")
    proven = fields.Boolean(required=True, attribute="evening.chosen.is_proven")
    gap = fields.Float(
        required=True,
        attribute="evening.chosen.gap",
        allow_none=True,
        metadata={"description": "by which share it may be below the best; null: not known"},
    )
    how = fields.String(required=True, attribute="evening.chosen.how")
    to_order = fields.List(fields.Nested(TonightLineSchema), required=True)
    order = fields.Nested(LeastOrderSchema, required=True, allow_none=True)


class PromisedTonightSchema(Schema):
    """What was promised, and which promises moved for it."""

    jobs = fields.List(fields.String(), required=True)
    reservations = fields.List(fields.Nested(ReservationSchema), required=True)
    moved = fields.List(fields.Nested(MovedSchema), required=True)


class _AsItWasShown(fields.Nested):
    """What was dumped when it was worked out."""

    def _serialize(self, value: Any, *_besides: Any, **_options: Any) -> Any:  # type: ignore[override]
        return value


class KeptEveningSchema(Schema):
    """A long evening: how far it has come, and once it is ready what it is."""

    plan = fields.Integer(required=True)
    state = fields.String(
        required=True, validate=validate.OneOf([each.value for each in EveningState])
    )
    why = fields.String(required=True)
    made_at = Moment(required=True)
    tonight = _AsItWasShown(TonightSchema, required=True, allow_none=True)
