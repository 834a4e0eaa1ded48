"""What suppliers and their offers look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.description import REQUIRED, Described, Description
from sparewell.edge.fields import (
    Flag,
    Moment,
    Money,
    SeveralLines,
    Text,
    free_text,
    identifier_text,
    pieces,
)
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema

MOST_BREAKS = 20
MOST_DAYS = 3650


def days(**options: object) -> fields.Integer:
    """Return the field for a number of days."""
    meant = f"must be a whole number of days from 0 to {MOST_DAYS}"
    return fields.Integer(
        strict=True,
        validate=validate.Range(0, MOST_DAYS, error=meant),
        error_messages={"invalid": meant},
        **options,  # type: ignore[arg-type]
    )


class SupplierDescription(Description):
    """Somebody who sells parts; only the name is required. A retired one is not ordered from."""

    id = Described(fields.Integer())
    name = Described(Text(), new=REQUIRED, change=True)
    postage = Described(Money(), new=0, change=True, kept=("postage_minor",))
    free_postage_from = Described(Money(), new=None, change=True, kept=("free_postage_from_minor",))
    minimum_order = Described(Money(), new=None, change=True, kept=("minimum_order_minor",))
    lead_days = Described(days(), new=21, change=True)
    lead_spread_days = Described(
        days(
            metadata={
                "description": "how many days later it may come; what is ordered reckons with it"
            }
        ),
        new=0,
        change=True,
    )
    note = Described(SeveralLines(empty_allowed=True), new="", change=True)
    created_at = Described(Moment())
    retired = Described(Flag(), change=True, shown=False, kept=("retired_at",))
    retired_at = Described(Moment())


NewSupplierSchema, ChangedSupplierSchema, SupplierSchema = SupplierDescription.schemas("Supplier")


class PriceSchema(Schema):
    """What each pack costs to who takes at least so many."""

    packs = pieces(required=True)
    price = Money(required=True)


class ShownPriceSchema(PriceSchema):
    """The same, as it is kept."""

    price = Money(required=True, attribute="price_minor")


class OfferDescription(Description):
    """What a supplier sells: a part, or a kind and its size in words; and its price.

    What was ordered by it stays as it was.
    """

    id = Described(fields.Integer())
    supplier = Described(fields.Integer(), kept=("supplier_id",))
    supplier_name = Described(fields.String(), read="supplier.name")
    part = Described(
        identifier_text(),
        new=None,
        change=True,
        shown=fields.String(allow_none=True),
        kept=("part_id",),
        read="part.number",
    )
    kind = Described(Text(longest=40), new=None, change=True, shown=fields.String(allow_none=True))
    size = Described(Text(), new=None, change=True, shown=fields.String(allow_none=True))
    item_number = Described(free_text(100), new="", change=True)
    pack_pieces = Described(pieces(), new=1, change=True)
    minimum_pieces = Described(pieces(), new=1, change=True)
    prices = Described(
        fields.List(
            fields.Nested(PriceSchema),
            validate=validate.Length(min=1, max=MOST_BREAKS),
            metadata={"description": "for a pack, by the fewest packs; that of 1 pack is there"},
        ),
        new=REQUIRED,
        change=True,
        shown=fields.List(fields.Nested(ShownPriceSchema)),
        kept=("breaks",),
    )
    note = Described(SeveralLines(empty_allowed=True), new="", change=True)
    created_at = Described(Moment())
    retired = Described(Flag(), change=True, shown=False, kept=("retired_at",))
    retired_at = Described(Moment())


NewOfferSchema, ChangedOfferSchema, OfferSchema = OfferDescription.schemas("Offer")


class OfferArguments(PageArguments):
    """How the list of offers may be narrowed."""

    part = identifier_text()
    kind = Text(longest=40)


SupplierPageSchema = page_schema("suppliers", SupplierSchema)
OfferPageSchema = page_schema("offers", OfferSchema)
