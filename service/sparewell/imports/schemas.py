"""What imports look like in JSON."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import Flag, Moment, Text
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
from sparewell.imports.bounds import MOST_COLUMNS, MOST_ROWS
from sparewell.imports.cells import DATE_ORDERS
from sparewell.imports.tables import ImportState
from sparewell.imports.targets import KINDS_OF_FILE

_FIELD_NAME = "^[a-z0-9_.]{1,80}$"


class _Mapping(fields.Field[Any]):
    """An object of fields by the header of a column; a null leaves the column alone."""

    def __init__(self, **options: Any) -> None:
        metadata = {
            "type": "object",
            "description": "by the header of a column: what it is taken as; null leaves it alone",
            "additionalProperties": {"type": ["string", "null"], "pattern": _FIELD_NAME},
            "maxProperties": MOST_COLUMNS,
        }
        super().__init__(metadata=metadata, **options)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> Mapping[str, str | None]:
        if not isinstance(value, Mapping):
            raise ma.ValidationError('must be an object, such as {"Qty": "quantity"}')
        if len(value) > MOST_COLUMNS:
            raise ma.ValidationError(f"at most {MOST_COLUMNS} columns")
        faults: dict[str | int, Any] = {
            header: ["must be the name of a field, or null"]
            for header, name in value.items()
            if name is not None and not (isinstance(name, str) and re.fullmatch(_FIELD_NAME, name))
        }
        if faults:
            raise ma.ValidationError(faults)
        return value


class ChangedImportSchema(Schema):
    """What may be said of a file; it is checked again."""

    mapping = _Mapping()
    create_drawers = Flag(metadata={"description": "make drawers that are lacking"})
    keep_unmapped = Flag(
        metadata={"description": "what is in columns that are taken as nothing goes into the note"},
    )
    again = Flag(
        metadata={"description": "the same file came a second time, and is meant"},
    )
    dates = fields.String(
        validate=validate.OneOf(DATE_ORDERS),
        allow_none=True,
        metadata={"description": "what 03/04/2025 means; null refuses it"},
    )
    sheet = Text(allow_none=True, metadata={"description": "of a workbook; null is the first one"})
    header_row = fields.Integer(
        strict=True,
        allow_none=True,
        validate=validate.Range(1, MOST_ROWS, error=f"must be a row, from 1 to {MOST_ROWS}"),
        error_messages={"invalid": f"must be a row, from 1 to {MOST_ROWS}"},
        metadata={"description": "the number of the row of headers; null looks for it"},
    )
    fill_down = fields.List(
        Text(),
        validate=validate.Length(max=MOST_COLUMNS),
        metadata={"description": "headers of columns whose empty cells mean what stands above"},
    )


class NewImportArguments(Schema):
    """What is said of a file when it is sent."""

    of = fields.String(
        required=True,
        validate=validate.OneOf(KINDS_OF_FILE),
        metadata={"description": "what each row is one of"},
    )
    name = Text(
        required=True, metadata={"description": "stands in the ledger, such as a file name"}
    )
    check = fields.String(
        load_default="now",
        validate=validate.OneOf(("now", "later")),
        metadata={"description": "later answers at once; POST to its /check then, and watch it"},
    )


class ColumnSchema(Schema):
    """A column of the file: what it is taken as, and why."""

    column = fields.String(required=True)
    header = fields.String(required=True)
    samples = fields.List(fields.String(), required=True)
    field = fields.String(required=True, allow_none=True)
    unit = fields.String(required=True, allow_none=True)
    why = fields.String(required=True)


class ImportProblemSchema(Schema):
    """What is wrong, where, and what would be accepted; without a row, of the whole file."""

    row = fields.Integer(required=True, allow_none=True)
    column = fields.String(required=True, allow_none=True)
    cell = fields.String(required=True, allow_none=True)
    value = fields.String(required=True, allow_none=True)
    detail = fields.String(required=True)
    accepted = fields.String(required=True)


class ProgressSchema(ShownSchema):
    """How far somebody is who checks or applies it at this moment."""

    doing = fields.String(required=True, attribute="progress_doing")
    done = fields.Integer(required=True, attribute="progress_done")
    of = fields.Integer(required=True, attribute="progress_of")


class FieldSchema(Schema):
    """What a column may be taken as."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    required = fields.Boolean(required=True)
    accepted = fields.String(required=True)


class ImportSummarySchema(ShownSchema):
    """A file that is brought in."""

    id = fields.Integer(required=True)
    name = fields.String(required=True)
    of = fields.String(required=True, validate=validate.OneOf(KINDS_OF_FILE))
    state = fields.String(required=True, validate=validate.OneOf(tuple(ImportState)))
    rows = fields.Integer(required=True)
    problems_total = fields.Integer(required=True)
    created = fields.Dict(
        keys=fields.String(),
        required=True,
        metadata={"description": "how many of each were made; of drawers, which"},
    )
    group = fields.Integer(
        required=True,
        attribute="act_id",
        allow_none=True,
        metadata={"description": "the group of the ledger in which its pieces arrived"},
    )
    progress = fields.Nested(ProgressSchema, required=True, allow_none=True)
    size_bytes = fields.Integer(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    created_at = Moment(required=True)
    checked_at = Moment(required=True)
    ended_at = Moment(required=True)


class ImportSchema(ImportSummarySchema):
    """A file that is brought in, with its columns and its first problems."""

    options = fields.Dict(keys=fields.String(), required=True)
    columns = fields.List(fields.Nested(ColumnSchema), required=True)
    notices = fields.List(fields.String(), required=True)
    problems = fields.List(
        fields.Nested(ImportProblemSchema),
        required=True,
        metadata={"description": "the first 100; its /problems has them all"},
    )
    fields_there_are = fields.List(
        fields.Nested(FieldSchema),
        required=True,
        metadata={"description": "what a column may be taken as"},
    )


class ImportArguments(PageArguments):
    """How the list of imports may be narrowed."""

    state = fields.String(validate=validate.OneOf(tuple(ImportState)))


ImportPageSchema = page_schema("imports", ImportSummarySchema)
ImportProblemPageSchema = page_schema("problems", ImportProblemSchema)
