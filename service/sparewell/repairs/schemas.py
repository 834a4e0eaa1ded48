"""What pens, jobs and plans look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import Length, Moment, Schema, Text, note, pieces, row_id
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.fitting.schemas import CandidateSchema, PurchaseSchema, RefusedSchema
from sparewell.repairs.coming_in.schemas import (
    AlikeSchema,
    ChangedJobIntakeSchema,
    ChangedPenIntakeSchema,
    CorrectionSchema,
    JobIntakeSchema,
    JobOnItsWaySchema,
    PenIntakeSchema,
    ShownPenIntakeSchema,
    StepStandingSchema,
)
from sparewell.repairs.filling_systems.schemas import (
    HowToReadSchema,
    TemplateStepSchema,
    TemplateTestSchema,
)
from sparewell.repairs.job_needs.schemas import NeedSchema
from sparewell.repairs.job_plans.schemas import AdviceSchema
from sparewell.stock.schemas import ReservationSchema

MOST_READINGS = 100
MOST_MATERIALS = 20


class ReadingMap(fields.Field[Any]):
    """An object of readings by name; what each may be, the loaded calculators say."""

    def __init__(self, **options: Any) -> None:
        metadata = {
            "type": "object",
            "description": "by name: a length such as 8.0 or '8.0 mm', or an object with value, "
            "instrument and spread",
            "additionalProperties": {"type": ["number", "string", "object", "integer", "boolean"]},
            "maxProperties": MOST_READINGS,
        }
        super().__init__(metadata=metadata, **options)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> Mapping[str, Any]:
        if not isinstance(value, Mapping):
            raise ma.ValidationError('must be an object, such as {"barrel_bore": "8.0 mm"}')
        if len(value) > MOST_READINGS:
            raise ma.ValidationError(f"at most {MOST_READINGS} readings at a time")
        return value


def _materials(**options: Any) -> fields.List[str]:
    return fields.List(Text(longest=60), validate=validate.Length(max=MOST_MATERIALS), **options)


class NewPenSchema(PenIntakeSchema):
    """A pen that comes to the bench."""

    called = Text(required=True)
    filling_system = Text(longest=40, required=True)
    materials = _materials(load_default=list)
    readings = ReadingMap(load_default=dict)
    note = note()


class ChangedPenSchema(ChangedPenIntakeSchema):
    """What may be changed of a pen; readings are added, never changed."""

    called = Text()
    filling_system = Text(longest=40)
    materials = _materials()
    note = Text(longest=2000, empty_allowed=True)


class NewReadingsSchema(Schema):
    """Further readings; the earlier ones stay, also the one they correct."""

    readings = ReadingMap(required=True, validate=validate.Length(min=1, error="give at least one"))
    corrects = row_id(metadata={"description": "the id of a reading that was wrong"})
    why = Text(longest=2000)

    @ma.validates_schema
    def correction_has_a_reason(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse a correction without its reason, and a reason without its correction."""
        if "corrects" in data and "why" not in data:
            raise ma.ValidationError("say why the reading was wrong", "why")
        if "why" in data and "corrects" not in data:
            raise ma.ValidationError("say which reading was wrong, by its id", "corrects")


class ReadingSchema(Schema):
    """One measurement. `value` is in millimetres where it is a length, else as it was given."""

    id = fields.Integer(required=True)
    name = fields.String(required=True)
    value = fields.Raw(required=True, metadata={"type": ["number", "string"]})
    entered = fields.String(required=True)
    instrument = fields.String(required=True, allow_none=True)
    spread = Length(zero_allowed=True, required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)
    correction = fields.Nested(CorrectionSchema, required=True, allow_none=True)


class _PenItselfSchema(Schema):
    """A pen, but for what was noted of it at intake."""

    number = fields.String(required=True)
    called = fields.String(required=True)
    filling_system = fields.String(required=True)
    materials = fields.List(fields.String(), required=True)
    readings = fields.Dict(keys=fields.String(), values=fields.Nested(ReadingSchema), required=True)
    all_readings = fields.List(fields.Nested(ReadingSchema), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    warnings = fields.List(fields.String(), required=True)


class PenSchema(ShownPenIntakeSchema, _PenItselfSchema):
    """A pen. `readings` holds the latest of each name, `all_readings` every one, oldest first.

    A corrected reading is no longer among the `readings`.
    """


class PenArguments(PageArguments):
    """How the list of pens may be narrowed."""

    filling_system = Text(longest=40)


class NewJobSchema(JobIntakeSchema):
    """A repair of a pen."""

    pen = Text(longest=40, required=True)
    note = note()


class ChangedJobSchema(ChangedJobIntakeSchema):
    """What may be changed of a job."""

    note = Text(longest=2000, empty_allowed=True)


class CautionedStepSchema(TemplateStepSchema, StepStandingSchema):
    """One step of a job, how it stands, and what to mind before it."""

    cautions = fields.List(fields.String(), required=True)


class _JobItselfSchema(Schema):
    """A repair, but for how far it has come."""

    number = fields.String(required=True)
    pen = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(["open", "closed", "cancelled"]))
    filling_system = fields.String(required=True)
    needs = fields.List(fields.Nested(NeedSchema), required=True)
    consumables = fields.List(fields.String(), required=True)
    steps = fields.List(fields.Nested(CautionedStepSchema), required=True)
    tests = fields.List(fields.Nested(TemplateTestSchema), required=True)
    readings = fields.List(fields.Nested(HowToReadSchema), required=True)
    notes = fields.List(fields.String(), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    ended_at = Moment(required=True)


class JobSchema(JobOnItsWaySchema, _JobItselfSchema):
    """One repair, with its own copy of the template."""


class JobArguments(PageArguments):
    """How the list of jobs may be narrowed."""

    pen = Text(longest=40)
    state = fields.String(validate=validate.OneOf(["open", "closed", "cancelled"]))


class TakingSchema(Schema):
    """So many pieces of a lot."""

    lot = fields.Integer(required=True)
    quantity = fields.Integer(required=True)


class NeedPlanSchema(AdviceSchema):
    """What can be done about one need; `readings` are those it lacks, and how they are taken."""

    id = fields.Integer(required=True)
    kind = fields.String(required=True)
    quantity = fields.Integer(
        required=True,
        metadata={
            "description": "how many are wanted; of a range, how many fill the place, where the "
            "readings tell it"
        },
    )
    calculator = fields.String(required=True, allow_none=True)
    optional = fields.Boolean(required=True)
    state = fields.String(required=True)
    result = fields.Dict(required=True, allow_none=True)
    candidates = fields.List(fields.Nested(CandidateSchema), required=True)
    refused = fields.List(fields.Nested(RefusedSchema), required=True)
    best = fields.List(fields.Nested(TakingSchema), required=True)
    short = fields.Integer(required=True)
    to_buy = fields.List(fields.Nested(PurchaseSchema), required=True)
    missing = fields.List(fields.String(), required=True)
    readings = fields.List(fields.Nested(HowToReadSchema), required=True)
    paired_with = fields.List(fields.Integer(), required=True)
    problem = fields.String(required=True, allow_none=True)
    warnings = fields.List(fields.String(), required=True)
    alike = fields.List(fields.Nested(AlikeSchema), required=True)


class CautionSchema(Schema):
    """A caution, and the steps it stands before."""

    caution = fields.String(required=True)
    source = fields.String(required=True)
    steps = fields.List(fields.String(), required=True)
    dismissible = fields.Boolean(required=True)


class PlanSchema(Schema):
    """The plan of a job."""

    job = fields.String(required=True)
    needs = fields.List(fields.Nested(NeedPlanSchema), required=True)
    complete = fields.Boolean(required=True)
    cautions = fields.List(fields.Nested(CautionSchema), required=True)


class NewReservationSchema(Schema):
    """`{}` for the best set of all open needs, or a lot, how many of it, and for which need."""

    lot = row_id()
    quantity = pieces()
    need = row_id()
    override = Text(
        longest=2000, metadata={"description": "why a lot is taken although it is refused"}
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


class EndJobSchema(Schema):
    """A note on how it ended."""

    note = note()


PenPageSchema = page_schema("pens", PenSchema)
JobPageSchema = page_schema("jobs", JobSchema)
