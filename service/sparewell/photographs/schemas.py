"""What photographs look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.database.numbers import DONOR_PREFIX, PEN_PREFIX
from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import DayArgument, Moment, NumberOf, SeveralLines, note
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
from sparewell.photographs.operations import WhichPhotographs
from sparewell.photographs.pictures import MEDIA_TYPES


class NewPhotographArguments(Schema):
    """What is said of a photograph beside the picture itself."""

    note = note()
    taken_on = DayArgument(
        load_default=None, error_messages={"invalid": "must be a day such as 2026-03-01"}
    )


class PhotographArguments(PageArguments):
    """Which photographs to list."""

    state = fields.String(
        load_default=WhichPhotographs.KEPT, validate=validate.OneOf(tuple(WhichPhotographs))
    )


class RetireSchema(Schema):
    """Why a photograph is not to be shown any more."""

    why = SeveralLines(required=True)


class PhotographSchema(ShownSchema):
    """What is known of a photograph; `image` is where the picture itself is.

    The pixels are counted as the file has them; `orientation`, from 1 to 8 as Exif has it, says how
    to turn them, and viewers do.
    """

    id = fields.Integer(required=True)
    pen = NumberOf(PEN_PREFIX, required=True, allow_none=True, attribute="pen_id")
    donor = NumberOf(DONOR_PREFIX, required=True, allow_none=True, attribute="of_donor_id")
    image = fields.String(required=True)
    media_type = fields.String(required=True, validate=validate.OneOf(MEDIA_TYPES))
    width_pixels = fields.Integer(required=True)
    height_pixels = fields.Integer(required=True)
    orientation = fields.Integer(required=True, allow_none=True)
    size_bytes = fields.Integer(required=True)
    sha256 = fields.String(required=True)
    note = fields.String(required=True)
    taken_on = fields.Date(required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)
    retired_at = Moment(required=True)
    retired_by = fields.String(required=True, allow_none=True)
    retired_why = fields.String(required=True, allow_none=True)


PhotographPageSchema = page_schema("photographs", PhotographSchema)
