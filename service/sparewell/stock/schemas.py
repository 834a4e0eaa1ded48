"""What drawers, lots, movements and reservations look like in JSON."""

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
    row_id,
    row_id_argument,
)
from sparewell.edge.measured import HowMeasuredMap, MeasuredMap
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.made_on import EARLIEST_YEAR, LATEST_YEAR
from sparewell.stock.lots import CONFIDENCES

MOST_ATTRIBUTES = 50
RESERVATION_STATES = ("held", "in_tray", "used", "released", "spoiled", "lapsed")
CONDITIONS = ("as new", "used", "cut", "offcut", "unchecked")
VERBS = (
    "arrived",
    "fitted",
    "spoiled",
    "counted",
    "discarded",
    "moved",
    "valued",
    "cut",
    "opened",
    "punched",
    "put_back",
    "undone",
    "stripped",
    "checked",
)


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


class NewDrawerSchema(Schema):
    """A new drawer; only the code is required."""

    code = identifier_text(40, required=True)
    note = note()


class ChangedDrawerSchema(Schema):
    """What may be changed of a drawer."""

    note = Text(longest=2000, empty_allowed=True)


class DrawerSchema(Schema):
    """A drawer."""

    code = fields.String(required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)


class NewLotSchema(Schema):
    """Pieces that came together; part, drawer and quantity are required."""

    part = identifier_text(required=True)
    drawer = identifier_text(40, required=True)
    quantity = pieces(required=True)
    measured = MeasuredMap(load_default=dict)
    attributes = AttributeMap(load_default=dict)
    material = Text(longest=60)
    material_confidence = fields.String(validate=validate.OneOf(CONFIDENCES))
    label = Text(metadata={"description": "what the packet says: a claim"})
    made_on = MadeOnDate(load_default=None)
    cost = Money(load_default=None)
    note = note()


class ChangedLotSchema(Schema):
    """What may be changed of a lot; `measured` is merged into what it has."""

    measured = MeasuredMap(nulls_allowed=True)
    attributes = AttributeMap()
    material = Text(longest=60, allow_none=True)
    material_confidence = fields.String(validate=validate.OneOf(CONFIDENCES))
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
        validate=validate.OneOf(CONDITIONS),
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


class ReleaseSchema(Schema):
    """What every act on a lot takes: a note, and reservations to give up for it."""

    note = note()
    release = fields.List(
        row_id(),
        load_default=list,
        validate=validate.Length(max=100),
        metadata={"description": "ids of reservations of this lot to release first"},
    )


class CountSchema(ReleaseSchema):
    """What was counted, pieces in trays included."""

    counted = fields.Integer(
        required=True,
        strict=True,
        validate=validate.Range(
            0, MOST_PIECES, error=f"must be a whole number from 0 to {MOST_PIECES}"
        ),
        error_messages={"invalid": f"must be a whole number from 0 to {MOST_PIECES}"},
    )


class DiscardSchema(ReleaseSchema):
    """How many to throw away."""

    quantity = pieces(required=True)


class MoveSchema(ReleaseSchema):
    """Where to; without a quantity the whole lot goes."""

    drawer = identifier_text(40, required=True)
    quantity = pieces()


class MovementSchema(Schema):
    """One line of the ledger."""

    id = fields.Integer(required=True)
    group = fields.Integer(required=True)
    undoes = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "the group that this one undoes"},
    )
    at = Moment(required=True)
    lot = fields.Integer(required=True)
    verb = fields.String(required=True)
    change = fields.Integer(required=True)
    pieces = fields.Integer(required=True)
    cost_change = fields.String(required=True)
    place = fields.String(required=True)
    from_place = fields.String(required=True, allow_none=True)
    reservation = fields.Integer(required=True, allow_none=True)
    job = fields.String(required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    note = fields.String(required=True)


class MovementArguments(PageArguments):
    """How the ledger may be narrowed."""

    lot = row_id_argument()
    job = Text(longest=40)
    reservation = row_id_argument()
    group = row_id_argument()
    verb = fields.String(validate=validate.OneOf(VERBS))
    since = DayArgument(metadata={"description": "only lines of this day (UTC) and later"})


class VerbSchema(Schema):
    """How many pieces, and why; without a quantity all that are still promised."""

    quantity = pieces()
    note = note()


class ReservationSchema(Schema):
    """Pieces promised to a job, and what became of them."""

    id = fields.Integer(required=True)
    lot = fields.Integer(required=True)
    job = fields.String(required=True)
    need = fields.Integer(required=True, allow_none=True)
    goes_with = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "the reservation whose piece this one's is fixed in"},
    )
    quantity = fields.Integer(required=True)
    state = fields.String(required=True, validate=validate.OneOf(RESERVATION_STATES))
    promised = fields.Integer(required=True)
    in_tray = fields.Integer(required=True)
    used = fields.Integer(required=True)
    released = fields.Integer(required=True)
    spoiled = fields.Integer(required=True)
    lapsed = fields.Integer(required=True)
    verdict = fields.String(required=True, allow_none=True)
    why = fields.String(required=True, allow_none=True)
    override = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "why a person took a piece that the judgement refuses"},
    )
    note = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    created_at = Moment(required=True)
    expires_at = Moment(required=True)


class ReservationArguments(PageArguments):
    """How the list of reservations may be narrowed."""

    lot = row_id_argument()
    job = Text(longest=40)
    state = fields.String(validate=validate.OneOf(RESERVATION_STATES))


DrawerPageSchema = page_schema("drawers", DrawerSchema)
LotPageSchema = page_schema("lots", LotSchema)
MovementPageSchema = page_schema("movements", MovementSchema)
ReservationPageSchema = page_schema("reservations", ReservationSchema)
