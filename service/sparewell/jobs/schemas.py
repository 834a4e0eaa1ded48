"""What jobs, their needs and steps look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.database.numbers import PEN_PREFIX
from sparewell.edge.description import OPTIONAL, REQUIRED, Described, Description
from sparewell.edge.fields import (
    Flag,
    Moment,
    Money,
    NumberOf,
    SeveralLines,
    Text,
    day,
    free_text,
    note,
    pieces,
)
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
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
from sparewell.reservations.schemas import MovedSchema

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

    reservation = fields.Integer(required=True, attribute="id")
    lot = fields.Integer(required=True, attribute="lot_id")
    refused_because = fields.String(required=True, attribute="why")
    override = fields.String(required=True)


class NeedDescription(Description):
    """One thing a job needs, and how it stands.

    `paired_with` are the needs that are replaced together with it. A dropped one says why.
    `decided` settles one that waited for the pen to be open; `dropped` needs its reason, and false
    takes the need back.
    """

    id = Described(fields.Integer())
    kind = Described(Text(longest=40), new=REQUIRED)
    quantity = Described(
        pieces(),
        new=1,
        change=pieces(
            metadata={"description": "how many are wanted; takes the place of a range, at_most"}
        ),
    )
    at_most = Described(fields.Integer(), nullable=True)
    calculator = Described(Text(longest=40), new=None, change=True, nullable=True)
    given = Described(given_map(), new=dict, change=True, shown=fields.Dict())
    reads = Described(
        reads_map(),
        new=dict,
        change=True,
        shown=fields.Dict(keys=fields.String(), values=fields.String()),
    )
    materials = Described(materials_list(), new=list, change=True, shown=materials_list())
    optional = Described(Flag(), new=False, change=True, shown=fields.Boolean())
    seals_where = Described(Text(), new=REQUIRED)
    together = Described(free_text(100), new="")
    paired_with = Described(fields.List(fields.Integer()))
    note = Described(SeveralLines(empty_allowed=True), new="", change=True)
    state = Described(fields.String(validate=validate.OneOf(tuple(NeedState))))
    promised = Described(fields.Integer(), read="cover.promised")
    used = Described(fields.Integer(), read="cover.used")
    decided = Described(
        Flag(validate=validate.OneOf([True], error="only true: what was decided stays decided")),
        change=True,
        shown=False,
    )
    dropped = Described(Flag(), change=True, shown=False)
    why = Described(SeveralLines(), change=True, shown=False)
    dropped_at = Described(Moment())
    dropped_by = Described(fields.String(), nullable=True)
    dropped_why = Described(fields.String(), nullable=True)


NewNeedSchema = NeedDescription.new_schema("NewNeed")
NeedSchema = NeedDescription.shows("Need")


class ChangedNeedSchema(NeedDescription.change_schema("_ChangedNeed")):  # type: ignore[misc]
    """What may be changed of a need: what is wanted, what sizes it, and whether it is wanted."""

    @ma.validates_schema
    def dropping_has_a_reason(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse dropping without a reason, and a reason without dropping."""
        if bool(data.get("dropped")) != ("why" in data):
            raise ma.ValidationError(
                'a reason comes with {"dropped": true} and only with it', "why"
            )


class ToFetchDescription(Description):
    """Pieces that are promised and lie in their place."""

    reservation = Described(fields.Integer(), read="reservation.id")
    need = Described(fields.Integer(), nullable=True, read="reservation.need_id")
    lot = Described(fields.Integer(), read="lot.id")
    part = Described(fields.String(), nullable=True, read="lot.part.number")
    kind = Described(fields.String(), read="lot.kind")
    label = Described(fields.String(), nullable=True, read="lot.label")
    quantity = Described(fields.Integer())


ToFetchSchema = ToFetchDescription.shows("ToFetch")


class PlaceToFetchFromSchema(Schema):
    """A place, and what is to be fetched from it."""

    place = fields.String(required=True)
    pieces = fields.List(fields.Nested(ToFetchSchema), required=True)


class FetchListSchema(Schema):
    """What is to be fetched for a job, in the order of the places."""

    job = fields.String(required=True)
    places = fields.List(fields.Nested(PlaceToFetchFromSchema), required=True)


class CautionedStepSchema(TemplateStepSchema, StepStandingSchema):
    """One step of a job, how it stands, and what to mind before it."""

    cautions = fields.List(fields.String(), required=True)


class JobDescription(Description):
    """One repair, with its own copy of the template.

    The owner wishes, was promised and agreed to; time and worth are often known only after the
    job is closed.
    """

    number = Described(fields.String(), export="number")
    pen = Described(
        Text(longest=40), new=REQUIRED, shown=NumberOf(PEN_PREFIX), export="pen", kept=("pen_id",)
    )
    state = Described(fields.String(validate=validate.OneOf(tuple(JobState))), export="state")
    filling_system = Described(fields.String(), kept=("template",), read="template.name")
    needs = Described(fields.List(fields.Nested(NeedSchema)))
    consumables = Described(fields.List(fields.String()), read="template.consumables")
    steps = Described(fields.List(fields.Nested(CautionedStepSchema)))
    tests = Described(fields.List(fields.Nested(TemplateTestSchema)))
    readings = Described(fields.List(fields.Nested(HowToReadSchema)))
    notes = Described(fields.List(fields.String()), read="template.notes")
    wishes = Described(SeveralLines(empty_allowed=True), new=OPTIONAL, change=True, export="wishes")
    promised_on = Described(
        day(),
        new=OPTIONAL,
        change=True,
        shown=fields.Date(),
        nullable=True,
        export="promised_on",
    )
    estimate = Described(
        Money(), new=OPTIONAL, change=True, export="estimate", kept=("estimate_minor",)
    )
    ceiling = Described(
        Money(), new=OPTIONAL, change=True, export="ceiling", kept=("ceiling_minor",)
    )
    postage = Described(
        Money(), new=OPTIONAL, change=True, export="postage", kept=("postage_minor",)
    )
    approval = Described(
        fields.Nested(NewApprovalSchema),
        new=OPTIONAL,
        change=True,
        shown=fields.Nested(ApprovalSchema),
    )
    parts_cost = Described(Money(), read="costs.total")
    warnings = Described(fields.List(fields.String()))
    stands_at = Described(
        fields.Integer(metadata={"description": "the position of the first step that is not done"}),
        nullable=True,
    )
    timers = Described(fields.List(fields.Nested(JobTimerSchema)))
    glue = Described(fields.String(), export="glue")
    ink = Described(fields.String(), export="ink")
    test_results = Described(fields.List(fields.Nested(TestedSchema)))
    time_minutes = Described(
        whole_minutes(least=0), change=True, nullable=True, export="time_minutes"
    )
    value_as_restored = Described(Money(), change=True, kept=("value_as_restored_minor",))
    sold_on = Described(
        day(metadata={"description": "said of a closed job, like price, sold_to and warranty"}),
        change=True,
        shown=fields.Date(),
        nullable=True,
        export="sold_on",
    )
    price = Described(
        Money(metadata={"description": "what it was sold for"}),
        change=True,
        export="price",
        kept=("price_minor",),
    )
    sold_to = Described(free_text(200), change=True, export="sold_to")
    warranty_until = Described(
        day(metadata={"description": "the last day of the warranty"}),
        change=True,
        shown=fields.Date(),
        nullable=True,
        export="warranty_until",
    )
    note = Described(SeveralLines(empty_allowed=True), new="", change=True, export="note")
    created_at = Described(Moment(), export="created_at")
    ended_at = Described(Moment(), export="ended_at")
    closed_anyway = Described(
        fields.String(metadata={"description": "why it was closed with something unfinished"})
    )
    unfinished = Described(
        fields.List(
            fields.String(),
            metadata={"description": "what is in the way of closing it, or was left at the close"},
        )
    )
    overrides = Described(
        fields.List(
            fields.Nested(OverrideSchema),
            metadata={"description": "pieces taken although they were refused"},
        )
    )
    moved = Described(
        fields.List(
            fields.Nested(MovedSchema),
            metadata={
                "description": "promises of this job that moved aside, and those that did for it, "
                "until they are read here"
            },
        )
    )


NewJobSchema, ChangedJobSchema, JobSchema = JobDescription.schemas("Job")


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

    not_needed = SeveralLines()


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
    price = Money(required=True, metadata={"description": "what it was sold for"})
    fetches = Money(
        required=True,
        metadata={"description": "the price, else the value as restored, else what it might fetch"},
    )
    fetches_by = fields.String(required=True, allow_none=True)
    difference = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "what it fetches, less what is known of the costs"},
    )
    missing = fields.List(fields.String(), required=True)
    settings = fields.List(fields.Dict(), required=True)
