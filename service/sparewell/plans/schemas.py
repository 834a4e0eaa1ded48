"""What plans, promises and advice look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.database.numbers import JOB_PREFIX
from sparewell.edge.description import Described, ShownSchema
from sparewell.edge.fields import Flag, NumberOf, SeveralLines, note, pieces, row_id
from sparewell.edge.schema import Schema
from sparewell.extend.declarations import Verdict
from sparewell.filling_systems.schemas import HowToReadSchema
from sparewell.fitting.schemas import CandidateSchema, PurchaseSchema, RefusedSchema
from sparewell.jobs.schemas import whole_minutes
from sparewell.outcomes.schemas import AlikeSchema
from sparewell.plans.advising import SETTLES
from sparewell.plans.chains import Moving
from sparewell.reservations.schemas import (
    MovedSchema,
    ReservationDescription,
    ReservationSchema,
    VerbSchema,
)

_VERDICTS = tuple(verdict.value for verdict in Verdict if verdict is not Verdict.REFUSED)


class _PriceFigure(fields.Raw):
    def _serialize(self, value: Any, *_besides: Any, **_options: Any) -> Any:
        return None if value is None else float(value)


def _of_its_price(name: str, description: str) -> _PriceFigure:
    metadata = {"type": "number", "description": description}
    return _PriceFigure(
        required=True, allow_none=True, attribute=f"price.{name}", metadata=metadata
    )


class RecommendationSchema(Schema):
    """The answer in short; what limits it and its outcome are the calculator's own words."""

    look_for = fields.String(required=True)
    limited_by = fields.String(required=True, allow_none=True)
    outcome = fields.String(required=True, allow_none=True)


class SubstituteSchema(ShownSchema):
    """A piece in hand, or without a lot a size or a way, that is not the first choice.

    Null in its price: not known, or no question. `months_left` is null where its material has no
    rule of age.
    """

    what = fields.String(required=True)
    lot = fields.Integer(required=True, attribute="lot.id", allow_none=True)
    place = fields.String(required=True, attribute="lot.place.code", allow_none=True)
    available = fields.Integer(required=True, attribute="lot.available", allow_none=True)
    verdict = fields.String(
        required=True,
        attribute="verdict.value",
        allow_none=True,
        validate=validate.OneOf(_VERDICTS),
    )
    material = fields.String(required=True, attribute="lot.material", allow_none=True)
    capacity_less_ml = _of_its_price(
        "capacity_less_ml", "how much less it holds than the size recommended"
    )
    capacity_less_percent = _of_its_price(
        "capacity_less_percent", "the same in percent; less than nothing is more"
    )
    stretch_percent = _of_its_price("stretch_percent", "how far it is stretched over its seat")
    fit_by = fields.Date(required=True, allow_none=True)
    months_left = fields.Integer(required=True, allow_none=True)
    over_age = fields.Boolean(required=True)
    why = fields.String(required=True)


class ToOrderSchema(Schema):
    """A line of an order: how many are lacking, what to ask for, what to check."""

    kind = fields.String(required=True)
    quantity = fields.Integer(required=True)
    ask_for = fields.String(required=True)
    check_on_arrival = fields.String(required=True)
    or_else = fields.List(fields.String(), required=True)


class ToMakeSchema(ShownSchema):
    """Pieces that can be made out of a bag in hand, before any are bought."""

    lot = fields.Integer(required=True, attribute="lot.id")
    place = fields.String(required=True, attribute="lot.place.code")
    pieces = fields.Integer(required=True)
    says = fields.String(required=True)


class WouldDecideSchema(ShownSchema, HowToReadSchema):
    """A reading that would decide: whether anything can be said, which piece, or which size."""

    settles = fields.String(required=True, validate=validate.OneOf(SETTLES))
    taken = fields.Boolean(
        required=True,
        attribute="is_taken",
        metadata={"description": "whether it was taken, and ought to be taken more closely"},
    )
    why = fields.String(required=True)


class SpoilSchema(VerbSchema):
    """How many pieces, and why; and whether the next one is to be reserved at once."""

    reserve_next = Flag(
        load_default=False,
        metadata={"description": "reserve the next piece in the same moment, if one can be had"},
    )


class ReserveWithSchema(Schema):
    """The request that reserves a piece."""

    path = fields.String(required=True)
    body = fields.Dict(keys=fields.String(), values=fields.Integer(), required=True)


class NextPieceSchema(ShownSchema):
    """A piece that would do in place of the spoiled one; without a verdict a person judges."""

    lot = fields.Integer(required=True, attribute="lot.id")
    place = fields.String(required=True, attribute="lot.place.code")
    available = fields.Integer(required=True, attribute="lot.available")
    verdict = fields.String(
        required=True,
        attribute="verdict.value",
        allow_none=True,
        validate=validate.OneOf(_VERDICTS),
    )
    why = fields.String(required=True)
    reserve = fields.Nested(ReserveWithSchema, required=True)


class NextSchema(ShownSchema):
    """What comes after a spoiled piece: what its need lacks now, and where that is to be had."""

    need = fields.Integer(required=True, attribute="need.id", allow_none=True)
    kind = fields.String(required=True)
    lacks = fields.Integer(required=True)
    reserved = fields.List(fields.Nested(ReservationSchema), required=True)
    pieces = fields.List(fields.Nested(NextPieceSchema), required=True)
    to_order = fields.List(fields.Nested(ToOrderSchema), required=True)
    why = fields.String(required=True)


class SpoiledDescription(ReservationDescription):
    """The reservation of the spoiled pieces, and what comes next."""

    next = Described(fields.Nested(NextSchema))


SpoiledSchema = SpoiledDescription.shows("Spoiled")


class TakingSchema(ShownSchema):
    """So many pieces of a lot."""

    lot = fields.Integer(required=True, attribute="lot_id")
    quantity = fields.Integer(required=True)


class NeedPlanSchema(ShownSchema):
    """What can be done about one need; `readings` are those it lacks, and how they are taken."""

    recommendation = fields.Nested(
        RecommendationSchema, required=True, allow_none=True, attribute="advice.recommendation"
    )
    substitutes = fields.List(
        fields.Nested(SubstituteSchema), required=True, attribute="advice.substitutes"
    )
    to_order = fields.List(fields.Nested(ToOrderSchema), required=True, attribute="advice.to_order")
    to_make = fields.List(
        fields.Nested(ToMakeSchema),
        required=True,
        attribute="advice.to_make",
        metadata={"description": "what can be punched out of a sheet in hand; not ordered"},
    )
    would_decide = fields.List(
        fields.Nested(WouldDecideSchema), required=True, attribute="advice.would_decide"
    )
    id = fields.Integer(required=True, attribute="need.id")
    kind = fields.String(required=True, attribute="need.kind")
    quantity = fields.Integer(
        required=True,
        metadata={
            "description": "how many are wanted; of a range, how many fill the place, where the "
            "readings tell it"
        },
    )
    calculator = fields.String(required=True, attribute="need.calculator", allow_none=True)
    optional = fields.Boolean(required=True, attribute="need.optional")
    state = fields.String(required=True)
    result = fields.Dict(required=True, attribute="found.calculation.result", allow_none=True)
    candidates = fields.List(fields.Nested(CandidateSchema), required=True)
    refused = fields.List(fields.Nested(RefusedSchema), required=True)
    best = fields.List(fields.Nested(TakingSchema), required=True)
    short = fields.Integer(required=True)
    wanted_by = fields.List(
        fields.String(),
        required=True,
        metadata={"description": "the other open jobs that want the same pieces"},
    )
    to_buy = fields.List(fields.Nested(PurchaseSchema), required=True)
    missing = fields.List(fields.String(), required=True)
    readings = fields.List(fields.Nested(HowToReadSchema), required=True)
    paired_with = fields.List(fields.Integer(), required=True)
    problem = fields.String(required=True, allow_none=True, attribute="trouble")
    warnings = fields.List(fields.String(), required=True, attribute="every_warning")
    alike = fields.List(fields.Nested(AlikeSchema), required=True)


class CautionSchema(Schema):
    """A caution, and the steps it stands before."""

    caution = fields.String(required=True)
    source = fields.String(required=True)
    steps = fields.List(fields.String(), required=True)
    dismissible = fields.Boolean(required=True)


class WouldMoveSchema(ShownSchema):
    """A promise of another job that would move aside, and where its pieces come from then."""

    reservation = fields.Integer(required=True, attribute="move.reservation_id")
    job = NumberOf(JOB_PREFIX, required=True, attribute="move.to.job_id")
    lot = fields.Integer(required=True, attribute="lot_id")
    to_lot = fields.Integer(required=True, attribute="move.to.lot_id")


class PlanSchema(Schema):
    """The plan of a job."""

    job = fields.String(required=True)
    needs = fields.List(fields.Nested(NeedPlanSchema), required=True)
    complete = fields.Boolean(required=True)
    would_move = fields.List(
        fields.Nested(WouldMoveSchema),
        required=True,
        metadata={
            "description": "promises of the same person that move aside when it is reserved, so "
            "that nothing is short then; none where that would not do"
        },
    )
    cautions = fields.List(fields.Nested(CautionSchema), required=True)


class MovingField(fields.Field[Any]):
    """Whose promises may move aside: `"mine"`, `"any"`, or false."""

    def __init__(self, **options: Any) -> None:
        """Say in the document what may move."""
        described = {
            "enum": [Moving.MINE.value, Moving.ANY.value, False],
            "description": "whose promises may move aside to pieces that fit their jobs no worse: "
            "those of the same person, anybody's, or none",
        }
        meant = 'must be "mine" (promises of the same person), "any" or false'
        super().__init__(metadata=described, error_messages={"invalid": meant}, **options)

    def _deserialize(self, value: Any, *_besides: Any, **_options: Any) -> Moving:
        if value is False:
            return Moving.NONE
        if isinstance(value, str) and value in {Moving.MINE, Moving.ANY}:
            return Moving(value)
        raise self.make_error("invalid")


class NewReservationSchema(Schema):
    """`{}` for the best set of all open needs, or a lot, how many of it, and for which need."""

    lot = row_id()
    quantity = pieces()
    need = row_id()
    override = SeveralLines(metadata={"description": "why a lot is taken although it is refused"})
    move = MovingField(load_default=Moving.MINE)
    expires_in = whole_minutes(
        metadata={
            "description": "minutes after which it lapses unless it was fetched, instead of the "
            "workshop's own time"
        }
    )
    note = note()

    @ma.validates_schema
    def quantity_is_of_a_lot(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse what is said of a lot where none is named."""
        if not data.keys().isdisjoint({"quantity", "need", "override"}) and "lot" not in data:
            raise ma.ValidationError("say of which lot", "lot")


class ReservationsSchema(Schema):
    """What was reserved."""

    reservations = fields.List(fields.Nested(ReservationSchema), required=True)
    warnings = fields.List(fields.String(), required=True)
    moved = fields.List(
        fields.Nested(MovedSchema),
        required=True,
        metadata={"description": "promises of other jobs that moved aside for it"},
    )
