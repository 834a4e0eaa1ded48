"""What timers look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.database.numbers import JOB_PREFIX, PEN_PREFIX
from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import GivenMoment, Moment, NumberOf, Text, note
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
from sparewell.jobs.schemas import whole_minutes
from sparewell.jobs.tables import TimerState


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


class TimerSchema(ShownSchema):
    """Something a job waits for; `state` and `ready` go by the server's clock."""

    id = fields.Integer(required=True)
    job = NumberOf(JOB_PREFIX, required=True, attribute="job_id")
    pen = NumberOf(PEN_PREFIX, required=True, attribute="pen_id")
    called = fields.String(required=True)
    what = fields.String(required=True)
    until = Moment(required=True)
    state = fields.String(required=True, validate=validate.OneOf(tuple(TimerState)))
    ready = fields.Boolean(required=True)
    created_at = Moment(required=True)
    done_at = Moment(required=True)


class TimerArguments(PageArguments):
    """How the list of timers may be narrowed."""

    state = fields.String(validate=validate.OneOf(tuple(TimerState)))
    before = GivenMoment()


TimerPageSchema = page_schema("timers", TimerSchema)
