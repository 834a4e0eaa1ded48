"""What is said of a job that is closed or cancelled, in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.fields import Money, SeveralLines, free_text, note, row_id
from sparewell.edge.schema import Schema
from sparewell.jobs.schemas import SaidTestSchema, whole_minutes
from sparewell.outcomes.schemas import NewOutcomeSchema

MOST_OUTCOMES = 100
MOST_TESTS = 50


class EndJobSchema(Schema):
    """A note on how it ended."""

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
    anyway = SeveralLines(
        metadata={"description": "why the job is closed although something is not finished"},
    )
