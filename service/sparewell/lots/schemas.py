"""What lots look like in JSON."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import (
    MOST_PIECES,
    DayArgument,
    DimensionMap,
    Length,
    MadeOnDate,
    Moment,
    Money,
    Schema,
    Text,
    WholeNumberArgument,
    identifier_text,
    note,
    pieces,
)
from sparewell.edge.measured import HowMeasuredMap, MeasuredMap
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.lots.conditions import Condition, Confidence
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.made_on import EARLIEST_YEAR, LATEST_YEAR

MOST_ATTRIBUTES = 50


class AttributeMap(fields.Field[Any]):
    """An object of attributes by name; what each may be, the kind says. A null takes one away."""

    def __init__(self, **options: Any) -> None:
        metadata = {
            "type": "object",
            "description": "by name, as the kind describes them: the starts of a thread, a grade",
            "additionalProperties": {"type": ["string", "number", "boolean", "null"]},
        }
        super().__init__(metadata=metadata, **options)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> Mapping[str, Any]:
        if not isinstance(value, Mapping):
            raise ma.ValidationError('must be an object, such as {"thread_starts": 3}')
        if len(value) > MOST_ATTRIBUTES:
            raise ma.ValidationError(f"at most {MOST_ATTRIBUTES} attributes")
        return value


class AttributeFilter(fields.Field[Any]):
    """Attributes a lot must have, in a query: `thread_starts:3,thread_hand:right`."""

    def __init__(self, **options: Any) -> None:
        pair = r"[a-z][a-z0-9_]{0,39}:[^,\x00-\x1f\x7f-\x9f]+"
        pattern = f"^{pair}(,{pair})*$"
        metadata = {"type": "string", "pattern": pattern, "example": "thread_starts:3"}
        super().__init__(metadata=metadata, **options)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> dict[str, str]:
        found = {}
        for pair in str(value).split(","):
            name, colon, wanted = pair.partition(":")
            named = colon and re.fullmatch("[a-z][a-z0-9_]{0,39}", name)
            if not named or not re.fullmatch(r"[^\x00-\x1f\x7f-\x9f]+", wanted):
                raise ma.ValidationError("give name:value, more of them with commas between")
            found[name] = wanted
        return found


class NewLotSchema(Schema):
    """Pieces that came together; part, drawer and quantity are required."""

    part = identifier_text(required=True)
    drawer = identifier_text(40, required=True)
    quantity = pieces(required=True)
    measured = MeasuredMap(load_default=dict)
    attributes = AttributeMap(load_default=dict)
    material = Text(longest=60)
    material_confidence = fields.String(validate=validate.OneOf(tuple(Confidence)))
    label = Text(metadata={"description": "what the packet says: a claim"})
    made_on = MadeOnDate(load_default=None)
    cost = Money(load_default=None)
    note = note()


class ChangedLotSchema(Schema):
    """What may be changed of a lot; `measured` is merged into what it has."""

    measured = MeasuredMap(nulls_allowed=True)
    attributes = AttributeMap()
    material = Text(longest=60, allow_none=True)
    material_confidence = fields.String(validate=validate.OneOf(tuple(Confidence)))
    label = Text(allow_none=True)
    made_on = MadeOnDate()
    cost = Money()
    note = Text(longest=2000, empty_allowed=True)


class LotSchema(Schema):
    """Pieces that came together. Lengths are millimetres."""

    id = fields.Integer(required=True)
    part = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "null for what is no part of the catalogue: offcuts, donors'"},
    )
    kind = fields.String(required=True)
    place = fields.String(required=True)
    parent_lot = fields.Integer(required=True, allow_none=True)
    part_of_lot = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "the piece that it is still fixed in: a clip's cap"},
    )
    donor = fields.String(required=True, allow_none=True)
    condition = fields.String(
        required=True,
        allow_none=True,
        validate=validate.OneOf(tuple(Condition)),
        metadata={"description": "null while the pieces are as they arrived"},
    )
    in_hand = fields.Integer(required=True)
    promised = fields.Integer(required=True)
    available = fields.Integer(required=True)
    over_age = fields.Integer(
        required=True,
        metadata={"description": "how many of the available ones are past their fit_by today"},
    )
    label = fields.String(required=True, allow_none=True)
    measured = DimensionMap(required=True)
    measured_as_entered = fields.Dict(keys=fields.String(), values=fields.String(), required=True)
    measured_how = HowMeasuredMap(required=True)
    dimensions = DimensionMap(required=True)
    basis = fields.Dict(keys=fields.String(), values=fields.String(), required=True)
    attributes = fields.Dict(keys=fields.String(), required=True)
    material = fields.String(required=True, allow_none=True)
    material_confidence = fields.String(required=True)
    made_on = MadeOnDate(required=True)
    fit_by = fields.Date(required=True, allow_none=True)
    fit_by_scheme = fields.String(required=True, allow_none=True)
    fit_by_counted_from = fields.String(required=True, allow_none=True)
    arrived_at = Moment(required=True)
    cost = Money(required=True)
    note = fields.String(required=True)
    warnings = fields.List(fields.String(), required=True)


def _near_our_time(day: date) -> None:
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise ma.ValidationError(f"must be a day from {EARLIEST_YEAR} to {LATEST_YEAR}")


class LotArguments(
    PageArguments.from_dict(  # type: ignore[misc]
        {
            f"{name}_{end}": Length(metadata={"type": "string"})
            for name in DIMENSIONS
            for end in ("min", "max")
        }
    )
):
    """How the list of lots may be narrowed: by any dimension, and by what is left."""

    kind = Text(longest=40)
    part = identifier_text()
    place = identifier_text(40)
    donor = Text(longest=40)
    whose = Text(
        longest=40,
        metadata={
            "description": "only pieces of donors that have, or had, one of this kind; dimensions "
            "and attributes are then that one's: kind=clip&whose=cap finds a clip by its cap"
        },
    )
    material = Text(longest=60)
    attributes = AttributeFilter()
    fit_on = DayArgument(
        validate=_near_our_time,
        metadata={"description": "only lots that are not past their fit_by on this day"},
        error_messages={"invalid": "must be a day such as 2026-03-01"},
    )
    available_min = WholeNumberArgument(
        validate=validate.Range(0, MOST_PIECES, error=f"must be from 0 to {MOST_PIECES}"),
        error_messages={"invalid": "must be a whole number"},
    )


LotPageSchema = page_schema("lots", LotSchema)
