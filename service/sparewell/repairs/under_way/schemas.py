"""What waiting, closing, outcomes, history and worth look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import Moment, Money, Schema, Text, note, row_id
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.repairs.coming_in.schemas import (
    AlikeSchema,
    GivenMoment,
    SaidTestSchema,
    free_text,
    whole_minutes,
)
from sparewell.repairs.outcomes import OUTCOMES
from sparewell.repairs.waiting import TIMER_STATES

MOST_OUTCOMES = 100
MOST_TESTS = 50


class NewTimerSchema(Schema):
    """What a job waits for, until a moment or for so many minutes."""

    what = Text(required=True)
    until = GivenMoment()
    minutes = whole_minutes()

    @ma.validates_schema
    def one_end(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse a timer without an end, or with two."""
        if ("until" in data) is ("minutes" in data):
            raise ma.ValidationError("give either until or minutes", "until")


class ChangedTimerSchema(Schema):
    """Where a timer is moved to, and why; or another name for it."""

    what = Text()
    until = GivenMoment()
    minutes = whole_minutes(metadata={"description": "counted from now"})
    note = note()

    @ma.validates_schema
    def one_end(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse two ends."""
        if "until" in data and "minutes" in data:
            raise ma.ValidationError("give either until or minutes", "until")


class TimerSchema(Schema):
    """Something a job waits for; `state` and `ready` go by the server's clock."""

    id = fields.Integer(required=True)
    job = fields.String(required=True)
    pen = fields.String(required=True)
    called = fields.String(required=True)
    what = fields.String(required=True)
    until = Moment(required=True)
    state = fields.String(required=True, validate=validate.OneOf(TIMER_STATES))
    ready = fields.Boolean(required=True)
    created_at = Moment(required=True)
    done_at = Moment(required=True)


class TimerArguments(PageArguments):
    """How the list of timers may be narrowed."""

    state = fields.String(validate=validate.OneOf(TIMER_STATES))
    before = GivenMoment()


class NoteSchema(Schema):
    """A note."""

    note = note()


class StepDoneSchema(NoteSchema):
    """That a step is done; or, with the reason, that this pen does not need it."""

    not_needed = Text(longest=2000)


class NewOutcomeSchema(Schema):
    """How used pieces turned out."""

    outcome = fields.String(required=True, validate=validate.OneOf(OUTCOMES))
    note = note()


class ClosingOutcomeSchema(NewOutcomeSchema):
    """How the used pieces of one reservation turned out."""

    reservation = row_id(required=True)


class CloseJobSchema(Schema):
    """How a job went; all of it may be left out."""

    outcomes = fields.List(
        fields.Nested(ClosingOutcomeSchema), validate=validate.Length(max=MOST_OUTCOMES)
    )
    glue = free_text(200)
    ink = free_text(200)
    tests = fields.List(fields.Nested(SaidTestSchema), validate=validate.Length(max=MOST_TESTS))
    model_note = free_text(200)
    time_minutes = whole_minutes(least=0)
    value_as_restored = Money()
    note = note()
    anyway = Text(
        longest=2000,
        metadata={"description": "why the job is closed although something is not finished"},
    )


class OutcomeSchema(Schema):
    """How used pieces turned out, with what was known then; `counts` marks the latest word."""

    id = fields.Integer(required=True)
    reservation = fields.Integer(required=True)
    job = fields.String(required=True)
    pen = fields.String(required=True)
    lot = fields.Integer(required=True)
    part = fields.String(required=True, allow_none=True)
    size = fields.String(required=True)
    outcome = fields.String(required=True, validate=validate.OneOf(OUTCOMES))
    counts = fields.Boolean(required=True)
    verdict = fields.String(required=True, allow_none=True)
    glue = fields.String(
        required=True,
        metadata={"description": "The glue of its job; empty for a kind that is not glued in."},
    )
    ink = fields.String(required=True)
    readings = fields.Dict(required=True)
    note = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class SisterSchema(Schema):
    """Pieces of the same lot in another pen; `outcome` is null where nobody has said."""

    pen = fields.String(required=True)
    called = fields.String(required=True)
    owner = fields.String(required=True)
    job = fields.String(required=True)
    reservation = fields.Integer(required=True)
    lot = fields.Integer(required=True)
    used = fields.Integer(required=True)
    outcome = fields.String(required=True, allow_none=True)
    still_in = fields.Boolean(required=True)


class EventSchema(Schema):
    """One thing that happened to a pen."""

    at = Moment(required=True)
    what = fields.String(required=True)
    sentence = fields.String(required=True)
    job = fields.String(required=True, allow_none=True)
    actor = fields.String(required=True, allow_none=True)
    person = fields.String(required=True, allow_none=True)
    note = fields.String(required=True)
    details = fields.Dict(required=True)


class ContentSchema(Schema):
    """Pieces that are in a pen now."""

    kind = fields.String(required=True)
    part = fields.String(required=True, allow_none=True)
    lot = fields.Integer(required=True)
    label = fields.String(required=True, allow_none=True)
    size = fields.String(required=True)
    quantity = fields.Integer(required=True)
    seals_where = fields.String(required=True, allow_none=True)
    since = Moment(required=True)
    job = fields.String(required=True)
    reservation = fields.Integer(required=True)
    glue = fields.String(
        required=True,
        metadata={"description": "The glue of its job; empty for a kind that is not glued in."},
    )
    outcome = fields.String(required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)


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


TimerPageSchema = page_schema("timers", TimerSchema)
EventPageSchema = page_schema("history", EventSchema)
ContentPageSchema = page_schema("contents", ContentSchema)


class AlikePageSchema(page_schema("alike", AlikeSchema)):  # type: ignore[misc]
    """A page of sizes, and the settings that say which pens are alike."""

    settings = fields.List(fields.Dict(), required=True)


class OutcomePageSchema(page_schema("outcomes", OutcomeSchema)):  # type: ignore[misc]
    """A page of the outcomes of a lot and its family, and the pens to look at next."""

    sisters = fields.List(fields.Nested(SisterSchema), required=True)
    sisters_left_out = fields.Integer(required=True)
