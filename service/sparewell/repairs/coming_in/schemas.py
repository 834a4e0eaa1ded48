"""What intake looks like in JSON, and a job on its way."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import DayArgument, Flag, Moment, Money, Schema, Text, note
from sparewell.extend.pen_materials import CONFIDENCES, UNKNOWN
from sparewell.repairs.intake import APPROVAL_STATES
from sparewell.repairs.waiting import LONGEST_WAIT_DAYS

MOST_COMPONENTS = 50
MOST_MINUTES = LONGEST_WAIT_DAYS * 24 * 60
_MOMENT = r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?"
_MOMENT_PATTERN = rf"^{_MOMENT}([Zz]|[+-][0-9]{{2}}:[0-9]{{2}})$"
_MOMENT_MEANT = "must be a moment as RFC 3339 writes it, such as 2026-11-25T21:40:00Z"


class GivenMoment(fields.Field[Any]):
    """A moment with its zone, as RFC 3339 writes it."""

    def __init__(self, **options: Any) -> None:
        metadata = {"type": "string", "format": "date-time", "pattern": _MOMENT_PATTERN}
        super().__init__(metadata=metadata, **options)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> datetime:
        if not isinstance(value, str) or not re.fullmatch(_MOMENT_PATTERN, value):
            raise ma.ValidationError(_MOMENT_MEANT)
        try:
            return datetime.fromisoformat(value.upper()).astimezone(UTC)
        except (ValueError, OverflowError) as error:
            raise ma.ValidationError(f"{_MOMENT_MEANT}: there is none such") from error


def whole_minutes(least: int = 1, **options: Any) -> fields.Integer:
    """Return the field for so many minutes."""
    meant = f"must be a whole number of minutes from {least} to {MOST_MINUTES}"
    return fields.Integer(
        strict=True,
        validate=validate.Range(least, MOST_MINUTES, error=meant),
        error_messages={"invalid": meant},
        **options,
    )


def free_text(longest: int) -> Text:
    """Return the field for a text that may be empty."""
    return Text(longest=longest, empty_allowed=True)


class PenComponentSchema(Schema):
    """What one component of a pen is made of, and how sure that is."""

    component = Text(longest=60, required=True)
    material = Text(longest=60, load_default=None, allow_none=True)
    confidence = fields.String(load_default=UNKNOWN, validate=validate.OneOf(CONFIDENCES))


class PenIntakeSchema(Schema):
    """What is noted of a pen at intake beside its readings."""

    owner = free_text(200)
    accessories = free_text(2000)
    condition = free_text(2000)
    components = fields.List(
        fields.Nested(PenComponentSchema), validate=validate.Length(max=MOST_COMPONENTS)
    )
    model_note = free_text(200)
    cost = Money()


class ChangedPenIntakeSchema(PenIntakeSchema):
    """The same, and whether the pen is still about; pens are retired, never deleted."""

    retired = Flag()


class ShownPenIntakeSchema(Schema):
    """What was noted of a pen at intake."""

    owner = fields.String(required=True)
    accessories = fields.String(required=True)
    condition = fields.String(required=True)
    components = fields.List(fields.Nested(PenComponentSchema), required=True)
    model_note = fields.String(required=True)
    cost = Money(required=True)
    retired = fields.Boolean(required=True)
    retired_at = Moment(required=True)


class CorrectionSchema(Schema):
    """Why a reading counts no more, and which one stands in its place."""

    by = fields.Integer(required=True, allow_none=True, attribute="by_reading_id")
    why = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class NewApprovalSchema(Schema):
    """What became of the estimate: `by` is whoever said it, the owner or somebody for them."""

    state = fields.String(required=True, validate=validate.OneOf(APPROVAL_STATES))
    by = Text(allow_none=True)
    note = note()


class ApprovalSchema(Schema):
    """What became of the estimate, and who noted it."""

    state = fields.String(required=True, validate=validate.OneOf(APPROVAL_STATES))
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


class JobOnItsWaySchema(Schema):
    """How a job was agreed, where it stands, and how it went."""

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


class AlikeSchema(Schema):
    """One size and how it did in pens like this; `not_said` counts jobs without an outcome."""

    kind = fields.String(required=True)
    size = fields.String(required=True)
    pens = fields.Integer(required=True)
    good = fields.Integer(required=True)
    tight = fields.Integer(required=True)
    loose = fields.Integer(required=True)
    leaked = fields.Integer(required=True)
    not_said = fields.Integer(required=True)
    sentence = fields.String(required=True)
    jobs = fields.List(fields.String(), required=True)
