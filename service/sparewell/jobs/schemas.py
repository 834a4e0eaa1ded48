"""What jobs, their needs and steps look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import (
    DayArgument,
    Flag,
    Moment,
    Money,
    Schema,
    Text,
    free_text,
    note,
    pieces,
)
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.filling_systems.schemas import (
    HowToReadSchema,
    TemplateStepSchema,
    TemplateTestSchema,
    given_map,
    materials_list,
    reads_map,
)
from sparewell.jobs.progress import LONGEST_WAIT_DAYS
from sparewell.jobs.tables import ApprovalState, JobState, NeedState

MOST_MINUTES = LONGEST_WAIT_DAYS * 24 * 60


def whole_minutes(least: int = 1, **options: Any) -> fields.Integer:
    """Return the field for so many minutes."""
    meant = f"must be a whole number of minutes from {least} to {MOST_MINUTES}"
    return fields.Integer(
        strict=True,
        validate=validate.Range(least, MOST_MINUTES, error=meant),
        error_messages={"invalid": meant},
        **options,
    )


class NewApprovalSchema(Schema):
    """What became of the estimate: `by` is whoever said it, the owner or somebody for them."""

    state = fields.String(required=True, validate=validate.OneOf(tuple(ApprovalState)))
    by = Text(allow_none=True)
    note = note()


class ApprovalSchema(Schema):
    """What became of the estimate, and who noted it."""

    state = fields.String(required=True, validate=validate.OneOf(tuple(ApprovalState)))
    by = fields.String(required=True, allow_none=True)
    note = fields.String(required=True)
    actor = fields.String(required=True, allow_none=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class JobIntakeSchema(Schema):
    """What the owner wishes, was promised and agreed to."""

    wishes = free_text(2000)
    promised_on = DayArgument(
        allow_none=True, error_messages={"invalid": "must be a day such as 2026-12-01"}
    )
    estimate = Money()
    ceiling = Money()
    postage = Money()
    approval = fields.Nested(NewApprovalSchema)


class ChangedJobIntakeSchema(JobIntakeSchema):
    """The same, and what is often known only after the job is closed."""

    time_minutes = whole_minutes(least=0, allow_none=True)
    value_as_restored = Money()


class StepStandingSchema(Schema):
    """Whether a step is done, and who said so."""

    position = fields.Integer(required=True)
    done = fields.Boolean(required=True)
    done_at = Moment(required=True)
    done_by = fields.String(required=True, allow_none=True)
    done_note = fields.String(required=True)
    not_needed = fields.Boolean(
        required=True, metadata={"description": "this pen does not need it; done_note says why"}
    )
    owed = fields.Boolean(
        required=True,
        metadata={"description": "false where what the pen is made of forbids the step"},
    )


class JobTimerSchema(Schema):
    """What a job waits for; whether it is ready, the list of timers says."""

    id = fields.Integer(required=True)
    what = fields.String(required=True)
    until = Moment(required=True)
    done_at = Moment(required=True)


class Reached(Text):
    """What a test showed: a number, or a text such as "0.9 ml"."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> Any:
        is_number = isinstance(value, int | Decimal) and not isinstance(value, bool)
        text = format(Decimal(value), "f") if is_number else value
        return super()._deserialize(text, attr, data, **options)


class SaidTestSchema(Schema):
    """How a restored pen did in one test; a test with a figure wants a number and its unit."""

    name = Text(longest=100, required=True)
    value = Reached(longest=200, empty_allowed=True, metadata={"type": ["string", "number"]})
    passed = Flag(allow_none=True)


class TestedSchema(SaidTestSchema):
    """How a restored pen did in one test, and how that was judged against the test's figure."""

    amount = fields.String(metadata={"description": "the number alone, where there is a figure"})
    unit = fields.String()
    judged = fields.String(metadata={"description": "what it misses; empty where it passes"})


class OverrideSchema(Schema):
    """A piece that was taken although it was refused, and why."""

    reservation = fields.Integer(required=True)
    lot = fields.Integer(required=True)
    refused_because = fields.String(required=True)
    override = fields.String(required=True)


class NeedSchema(Schema):
    """One thing a job needs, and how it stands.

    `paired_with` are the needs that are replaced together with it. A dropped one says why.
    """

    id = fields.Integer(required=True)
    kind = fields.String(required=True)
    quantity = fields.Integer(required=True)
    at_most = fields.Integer(required=True, allow_none=True)
    calculator = fields.String(required=True, allow_none=True)
    given = fields.Dict(required=True)
    reads = fields.Dict(keys=fields.String(), values=fields.String(), required=True)
    materials = materials_list(required=True)
    optional = fields.Boolean(required=True)
    seals_where = fields.String(required=True)
    together = fields.String(required=True)
    paired_with = fields.List(fields.Integer(), required=True)
    note = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(tuple(NeedState)))
    promised = fields.Integer(required=True)
    used = fields.Integer(required=True)
    dropped_at = Moment(required=True)
    dropped_by = fields.String(required=True, allow_none=True)
    dropped_why = fields.String(required=True, allow_none=True)


class NewNeedSchema(Schema):
    """A need that the template did not foresee."""

    kind = Text(longest=40, required=True)
    seals_where = Text(required=True)
    quantity = pieces(load_default=1)
    calculator = Text(longest=40, load_default=None, allow_none=True)
    optional = Flag(load_default=False)
    given = given_map(load_default=dict)
    reads = reads_map(load_default=dict)
    materials = materials_list(load_default=list)
    together = Text(longest=100, empty_allowed=True, load_default="")
    note = note()


class ChangedNeedSchema(Schema):
    """What may be changed of a need: what is wanted, what sizes it, and whether it is wanted.

    `decided` settles one that waited for the pen to be open; `dropped` needs its reason, and false
    takes the need back.
    """

    quantity = pieces(
        metadata={"description": "how many are wanted; takes the place of a range, at_most"}
    )
    optional = Flag()
    calculator = Text(longest=40, allow_none=True)
    given = given_map()
    reads = reads_map()
    materials = materials_list()
    note = Text(longest=2000, empty_allowed=True)
    decided = Flag(
        validate=validate.OneOf([True], error="only true: what was decided stays decided")
    )
    dropped = Flag()
    why = Text(longest=2000)

    @ma.validates_schema
    def dropping_has_a_reason(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse dropping without a reason, and a reason without dropping."""
        if bool(data.get("dropped")) != ("why" in data):
            raise ma.ValidationError(
                'a reason comes with {"dropped": true} and only with it', "why"
            )


class ToFetchSchema(Schema):
    """Pieces that are promised and lie in their place."""

    reservation = fields.Integer(required=True)
    need = fields.Integer(required=True, allow_none=True)
    lot = fields.Integer(required=True)
    part = fields.String(required=True, allow_none=True)
    kind = fields.String(required=True)
    label = fields.String(required=True, allow_none=True)
    quantity = fields.Integer(required=True)


class PlaceToFetchFromSchema(Schema):
    """A place, and what is to be fetched from it."""

    place = fields.String(required=True)
    pieces = fields.List(fields.Nested(ToFetchSchema), required=True)


class FetchListSchema(Schema):
    """What is to be fetched for a job, in the order of the places."""

    job = fields.String(required=True)
    places = fields.List(fields.Nested(PlaceToFetchFromSchema), required=True)


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


class JobSchema(Schema):
    """One repair, with its own copy of the template."""

    number = fields.String(required=True)
    pen = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(tuple(JobState)))
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
    wishes = fields.String(required=True)
    promised_on = fields.Date(required=True, allow_none=True)
    estimate = Money(required=True)
    ceiling = Money(required=True)
    postage = Money(required=True)
    approval = fields.Nested(ApprovalSchema, required=True)
    parts_cost = Money(required=True)
    warnings = fields.List(fields.String(), required=True)
    stands_at = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "the position of the first step that is not done"},
    )
    timers = fields.List(fields.Nested(JobTimerSchema), required=True)
    glue = fields.String(required=True)
    ink = fields.String(required=True)
    test_results = fields.List(fields.Nested(TestedSchema), required=True)
    time_minutes = fields.Integer(required=True, allow_none=True)
    value_as_restored = Money(required=True)
    closed_anyway = fields.String(
        required=True, metadata={"description": "why it was closed with something unfinished"}
    )
    unfinished = fields.List(
        fields.String(),
        required=True,
        metadata={"description": "what is in the way of closing it, or was left at the close"},
    )
    overrides = fields.List(
        fields.Nested(OverrideSchema),
        required=True,
        metadata={"description": "pieces taken although they were refused"},
    )


class JobArguments(PageArguments):
    """How the list of jobs may be narrowed."""

    pen = Text(longest=40)
    state = fields.String(validate=validate.OneOf(tuple(JobState)))


JobPageSchema = page_schema("jobs", JobSchema)


class NoteSchema(Schema):
    """A note."""

    note = note()


class StepDoneSchema(NoteSchema):
    """That a step is done; or, with the reason, that this pen does not need it."""

    not_needed = Text(longest=2000)


class WorthLineSchema(Schema):
    """One cost, null where it is not known, and where it comes from."""

    name = fields.String(required=True)
    amount = Money(required=True, attribute="amount_minor")
    source = fields.String(required=True)


class WorthSchema(Schema):
    """What a repair costs against what it fetches; what is not known stands under `missing`."""

    job = fields.String(required=True)
    pen = fields.String(required=True)
    lines = fields.List(fields.Nested(WorthLineSchema), required=True)
    total = Money(required=True)
    complete = fields.Boolean(required=True)
    value_as_restored = Money(required=True)
    difference = fields.String(required=True, allow_none=True)
    missing = fields.List(fields.String(), required=True)
    settings = fields.List(fields.Dict(), required=True)
