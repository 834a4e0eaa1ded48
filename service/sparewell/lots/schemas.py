"""What lots look like in JSON."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.catalogue.schemas import MATERIAL_WORDS, NOTE_WORDS, PART_WORDS, SIZE_WORDS
from sparewell.catalogue.tables import column_of
from sparewell.database.numbers import DONOR_PREFIX
from sparewell.edge.description import OPTIONAL, REQUIRED, Described, Description, Heading, Split
from sparewell.edge.fields import (
    MOST_PIECES,
    DayArgument,
    DimensionMap,
    Length,
    MadeOnDate,
    Moment,
    Money,
    NumberOf,
    SeveralLines,
    Text,
    WholeNumberArgument,
    identifier_text,
    pieces,
)
from sparewell.edge.measured import HowMeasuredMap, MeasuredMap
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
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


class LotDescription(Description):
    """Pieces that came together. Lengths are millimetres.

    A new lot names its `drawer` and `quantity`, which are shown as its `place` and `in_hand`;
    `arrived_on` and `cost_each` are only said in a spreadsheet. Where a lot is split, `in_hand` and
    `cost` are shared out by whoever splits it.
    """

    id = Described(fields.Integer(), export="lot")
    part = Described(
        identifier_text(),
        new=REQUIRED,
        shown=fields.String(
            metadata={"description": "null for what is no part of the catalogue: offcuts, donors'"}
        ),
        nullable=True,
        column=Heading("the number of its part", PART_WORDS),
        export="part",
        on_split=Split.COPY,
        kept=("part",),
        read="part.number",
    )
    kind = Described(fields.String(), export="kind of part", on_split=Split.COPY)
    drawer = Described(
        identifier_text(40),
        new=REQUIRED,
        shown=False,
        column=Heading(
            "where it lies",
            (
                *("drawer", "drawer box", "box", "where", "location", "place", "bin", "tin"),
                *("compartment", "lives in", "shelf", "drawer code", "tray"),
            ),
        ),
    )
    place = Described(
        fields.String(),
        export="drawer",
        on_split=Split.COPY,
        kept=("place_id",),
        read="place.code",
    )
    quantity = Described(
        pieces(),
        new=REQUIRED,
        shown=False,
        column=Heading(
            "how many pieces",
            (
                *("qty", "quantity", "count", "how many", "pcs", "pieces", "number of pieces"),
                *("in hand", "on hand", "in stock", "stock", "amount", "have", "left"),
            ),
        ),
    )
    in_hand = Described(fields.Integer(), export="quantity", on_split=Split.SHARE)
    promised = Described(fields.Integer(), export="promised", kept=("promised",))
    available = Described(fields.Integer(), kept=("has_available",), read="available")
    over_age = Described(
        fields.Integer(
            metadata={"description": "how many of the available ones are past their fit_by today"}
        )
    )
    label = Described(
        Text(metadata={"description": "what the packet says: a claim"}),
        new=OPTIONAL,
        change=True,
        nullable=True,
        column=Heading(
            "what the packet says",
            ("label", "packet", "packet label", "says", "marked", *SIZE_WORDS),
            remark="a size on a packet is a claim, not a measurement",
        ),
        export="label",
        on_split=Split.COPY,
        asked="Its packet says",
    )
    condition = Described(
        fields.String(
            validate=validate.OneOf(tuple(Condition)),
            metadata={"description": "null while the pieces are as they arrived"},
        ),
        nullable=True,
        export="condition",
        on_split=Split.COPY,
    )
    material = Described(
        Text(longest=60),
        new=OPTIONAL,
        change=True,
        nullable=True,
        column=Heading("what it is made of", MATERIAL_WORDS),
        export="material",
        on_split=Split.COPY,
        asked="Material",
    )
    material_confidence = Described(
        fields.String(validate=validate.OneOf(tuple(Confidence))),
        new=OPTIONAL,
        change=True,
        shown=fields.String(),
        column=Heading(
            "how sure the material is", ("material confidence",), choice="degree of sureness"
        ),
        export="material confidence",
        on_split=Split.COPY,
    )
    made_on = Described(
        MadeOnDate(),
        new=None,
        change=True,
        column=Heading(
            "when it was made",
            (
                *("made", "made on", "made in", "manufactured", "date made", "cure date", "cured"),
                *("mfd", "date of manufacture"),
            ),
        ),
        export="made on",
        on_split=Split.COPY,
        kept=("made_on", "made_from"),
        asked="Made on",
        hint="A day, a month, a quarter (2026-Q1) or a year.",
    )
    arrived_on = Described(
        fields.Date(),
        shown=False,
        column=Heading(
            "the day on which it came",
            (
                *("bought", "bought on", "date bought", "purchased", "purchase date", "date"),
                *("arrived", "arrived at", "arrived on", "received", "when bought"),
            ),
        ),
    )
    arrived_at = Described(Moment(), export="arrived on", on_split=Split.COPY)
    cost = Described(
        Money(),
        new=None,
        change=True,
        column=Heading(
            "what all of it cost",
            ("cost", "price", "paid", "total price", "total cost", "price paid", "cost total"),
            remark="taken as what the whole lot cost; cost_each is the price of one piece",
        ),
        export="cost",
        on_split=Split.SHARE,
        kept=("cost_minor",),
        asked="Cost of what is in it",
    )
    cost_each = Described(
        Money(),
        shown=False,
        column=Heading(
            "what one piece cost",
            (
                *("price each", "unit price", "each", "cost each", "price per piece"),
                *("unit cost", "per piece", "price piece"),
            ),
        ),
    )
    measured = Described(
        MeasuredMap(),
        new=dict,
        change=MeasuredMap(nulls_allowed=True),
        shown=DimensionMap(),
        column=Heading("measured", remark="taken as measured on these pieces"),
        export="measured",
        on_split=Split.COPY,
    )
    measured_as_entered = Described(
        fields.Dict(keys=fields.String(), values=fields.String()), read="row.measured"
    )
    measured_how = Described(HowMeasuredMap(), export="how", on_split=Split.COPY)
    dimensions = Described(
        DimensionMap(), on_split=Split.COPY, kept=tuple(map(column_of, DIMENSIONS))
    )
    basis = Described(fields.Dict(keys=fields.String(), values=fields.String()))
    parent_lot = Described(fields.Integer(), nullable=True, kept=("parent_lot_id",))
    part_of_lot = Described(
        fields.Integer(
            metadata={"description": "the piece that it is still fixed in: a clip's cap"}
        ),
        nullable=True,
        kept=("part_of_lot_id",),
    )
    donor = Described(
        NumberOf(DONOR_PREFIX),
        nullable=True,
        export="donor",
        on_split=Split.COPY,
        kept=("donor_id",),
    )
    attributes = Described(
        AttributeMap(),
        new=dict,
        change=True,
        shown=fields.Dict(keys=fields.String()),
        column=Heading("attributes"),
        on_split=Split.COPY,
    )
    fit_by = Described(fields.Date(), nullable=True, read="age.day")
    fit_by_scheme = Described(fields.String(), nullable=True, read="age.scheme")
    fit_by_counted_from = Described(fields.String(), nullable=True, read="age.counted_from")
    note = Described(
        SeveralLines(empty_allowed=True),
        new="",
        change=True,
        column=Heading("a note", NOTE_WORDS),
        export="note",
        on_split=Split.COPY,
        asked="Note",
    )
    warnings = Described(fields.List(fields.String()))


NewLotSchema, ChangedLotSchema, LotSchema = LotDescription.schemas("Lot")


def _near_our_time(day: date) -> None:
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise ma.ValidationError(f"must be a day from {EARLIEST_YEAR} to {LATEST_YEAR}")


class LotFilter(
    Schema.from_dict(  # type: ignore[misc]
        {
            f"{name}_{end}": Length(metadata={"type": "string"})
            for name in DIMENSIONS
            for end in ("min", "max")
        }
    )
):
    """How lots may be narrowed: by any dimension, and by what is left."""

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


class LotArguments(LotFilter, PageArguments):
    """How the list of lots may be narrowed."""


class LotTotalSchema(Schema):
    """How much is free of some lots: `available` pieces, of which `over_age` are past `fit_by`."""

    lots = fields.Integer(required=True)
    available = fields.Integer(required=True)
    over_age = fields.Integer(required=True)


LotPageSchema = page_schema("lots", LotSchema)
