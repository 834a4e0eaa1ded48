"""What pens, jobs and plans look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import Length, Moment, Schema, Text, note, pieces, row_id
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.fitting.schemas import CandidateSchema, PurchaseSchema, RefusedSchema
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


class NewPenSchema(Schema):
    """A pen that comes to the bench."""

    called = Text(required=True)
    filling_system = Text(longest=40, required=True)
    materials = _materials(load_default=list)
    readings = ReadingMap(load_default=dict)
    note = note()


class ChangedPenSchema(Schema):
    """What may be changed of a pen; readings are added, never changed."""

    called = Text()
    filling_system = Text(longest=40)
    materials = _materials()
    note = Text(longest=2000, empty_allowed=True)


class NewReadingsSchema(Schema):
    """Further readings; the earlier ones stay."""

    readings = ReadingMap(required=True, validate=validate.Length(min=1, error="give at least one"))


class ReadingSchema(Schema):
    """One measurement. `value` is in millimetres where it is a length, else as it was given."""

    name = fields.String(required=True)
    value = fields.Raw(required=True, metadata={"type": ["number", "string"]})
    entered = fields.String(required=True)
    instrument = fields.String(required=True, allow_none=True)
    spread = Length(zero_allowed=True, required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class PenSchema(Schema):
    """A pen. `readings` holds the latest of each name, `all_readings` every one, oldest first."""

    number = fields.String(required=True)
    called = fields.String(required=True)
    filling_system = fields.String(required=True)
    materials = fields.List(fields.String(), required=True)
    readings = fields.Dict(keys=fields.String(), values=fields.Nested(ReadingSchema), required=True)
    all_readings = fields.List(fields.Nested(ReadingSchema), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    warnings = fields.List(fields.String(), required=True)


class PenArguments(PageArguments):
    """How the list of pens may be narrowed."""

    filling_system = Text(longest=40)


class NewJobSchema(Schema):
    """A repair of a pen."""

    pen = Text(longest=40, required=True)
    note = note()


class ChangedJobSchema(Schema):
    """What may be changed of a job."""

    note = Text(longest=2000, empty_allowed=True)


class NeedSchema(Schema):
    """One thing a job needs, and how it stands."""

    id = fields.Integer(required=True)
    kind = fields.String(required=True)
    quantity = fields.Integer(required=True)
    calculator = fields.String(required=True, allow_none=True)
    optional = fields.Boolean(required=True)
    seals_where = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(["open", "promised", "met"]))
    promised = fields.Integer(required=True)
    used = fields.Integer(required=True)


class StepSchema(Schema):
    """One step of the repair."""

    name = fields.String(required=True)
    substance = fields.String(required=True, allow_none=True)
    note = fields.String(required=True)


class CautionedStepSchema(StepSchema):
    """One step of a job, and what to mind before it."""

    cautions = fields.List(fields.String(), required=True)


class JobSchema(Schema):
    """One repair, with its own copy of the template."""

    number = fields.String(required=True)
    pen = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(["open", "closed", "cancelled"]))
    filling_system = fields.String(required=True)
    needs = fields.List(fields.Nested(NeedSchema), required=True)
    consumables = fields.List(fields.String(), required=True)
    steps = fields.List(fields.Nested(CautionedStepSchema), required=True)
    notes = fields.List(fields.String(), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    ended_at = Moment(required=True)


class JobArguments(PageArguments):
    """How the list of jobs may be narrowed."""

    pen = Text(longest=40)
    state = fields.String(validate=validate.OneOf(["open", "closed", "cancelled"]))


class TakingSchema(Schema):
    """So many pieces of a lot."""

    lot = fields.Integer(required=True)
    quantity = fields.Integer(required=True)


class NeedPlanSchema(Schema):
    """What can be done about one need."""

    id = fields.Integer(required=True)
    kind = fields.String(required=True)
    quantity = fields.Integer(required=True)
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
    problem = fields.String(required=True, allow_none=True)
    warnings = fields.List(fields.String(), required=True)


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
    """`{}` for the best set of all open needs, or a lot and how many of it."""

    lot = row_id()
    quantity = pieces()
    note = note()

    @ma.validates_schema
    def quantity_is_of_a_lot(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse a quantity without its lot."""
        if "quantity" in data and "lot" not in data:
            raise ma.ValidationError("say of which lot", "lot")


class ReservationsSchema(Schema):
    """What was reserved."""

    reservations = fields.List(fields.Nested(ReservationSchema), required=True)


class EndJobSchema(Schema):
    """A note on how it ended."""

    note = note()


class TemplateNeedSchema(Schema):
    """One perishable of a filling system."""

    kind = fields.String(required=True)
    quantity = fields.Integer(required=True)
    calculator = fields.String(required=True, allow_none=True)
    optional = fields.Boolean(required=True)
    seals_where = fields.String(required=True)


class HowToReadSchema(Schema):
    """A reading that sizes a part, and how to take it."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    how = fields.String(required=True)


class FillingSystemSchema(Schema):
    """The template of a repair."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    needs = fields.List(fields.Nested(TemplateNeedSchema), required=True)
    readings = fields.List(fields.Nested(HowToReadSchema), required=True)
    consumables = fields.List(fields.String(), required=True)
    steps = fields.List(fields.Nested(StepSchema), required=True)
    notes = fields.List(fields.String(), required=True)
    sources = fields.List(fields.String(), required=True)


PenPageSchema = page_schema("pens", PenSchema)
JobPageSchema = page_schema("jobs", JobSchema)
FillingSystemPageSchema = page_schema("filling_systems", FillingSystemSchema)
