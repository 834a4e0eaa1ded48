"""What suppliers and their offers look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.fields import Flag, Moment, Money, Schema, Text, identifier_text, note, pieces
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.suppliers.operations import MOST_BREAKS

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


class NewSupplierSchema(Schema):
    """Somebody who sells parts; only the name is required."""

    name = Text(required=True)
    postage = Money(load_default=0)
    free_postage_from = Money(load_default=None)
    minimum_order = Money(load_default=None)
    lead_days = days(load_default=21)
    lead_spread_days = days(load_default=0)
    note = note()


class ChangedSupplierSchema(Schema):
    """What may be changed of a supplier; a retired one is not ordered from."""

    name = Text()
    postage = Money()
    free_postage_from = Money()
    minimum_order = Money()
    lead_days = days()
    lead_spread_days = days()
    note = Text(longest=2000, empty_allowed=True)
    retired = Flag()


class SupplierSchema(Schema):
    """Somebody who sells parts."""

    id = fields.Integer(required=True)
    name = fields.String(required=True)
    postage = Money(required=True)
    free_postage_from = Money(required=True)
    minimum_order = Money(required=True)
    lead_days = fields.Integer(required=True)
    lead_spread_days = fields.Integer(
        required=True,
        metadata={
            "description": "how many days later it may come; what is ordered reckons with it"
        },
    )
    note = fields.String(required=True)
    created_at = Moment(required=True)
    retired_at = Moment(required=True)


class PriceSchema(Schema):
    """What each pack costs to who takes at least so many."""

    packs = pieces(required=True)
    price = Money(required=True)


class _PricesSchema(Schema):
    prices = fields.List(
        fields.Nested(PriceSchema),
        required=True,
        validate=validate.Length(min=1, max=MOST_BREAKS),
        metadata={"description": "for a pack, by the fewest packs; that of 1 pack is there"},
    )


class NewOfferSchema(_PricesSchema):
    """What a supplier sells: a part, or a kind and its size in words; and its price."""

    part = identifier_text(load_default=None, allow_none=True)
    kind = Text(longest=40, load_default=None, allow_none=True)
    size = Text(load_default=None, allow_none=True)
    item_number = Text(longest=100, empty_allowed=True, load_default="")
    pack_pieces = pieces(load_default=1)
    minimum_pieces = pieces(load_default=1)
    note = note()


class ChangedOfferSchema(Schema):
    """What may be changed of an offer; what was ordered by it stays as it was."""

    part = identifier_text()
    kind = Text(longest=40)
    size = Text()
    item_number = Text(longest=100, empty_allowed=True)
    pack_pieces = pieces()
    minimum_pieces = pieces()
    prices = fields.List(
        fields.Nested(PriceSchema), validate=validate.Length(min=1, max=MOST_BREAKS)
    )
    note = Text(longest=2000, empty_allowed=True)
    retired = Flag()


class OfferSchema(Schema):
    """What a supplier sells."""

    id = fields.Integer(required=True)
    supplier = fields.Integer(required=True)
    supplier_name = fields.String(required=True)
    part = fields.String(required=True, allow_none=True)
    kind = fields.String(required=True, allow_none=True)
    size = fields.String(required=True, allow_none=True)
    item_number = fields.String(required=True)
    pack_pieces = fields.Integer(required=True)
    minimum_pieces = fields.Integer(required=True)
    prices = fields.List(fields.Nested(PriceSchema), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    retired_at = Moment(required=True)


class OfferArguments(PageArguments):
    """How the list of offers may be narrowed."""

    part = identifier_text()
    kind = Text(longest=40)


SupplierPageSchema = page_schema("suppliers", SupplierSchema)
OfferPageSchema = page_schema("offers", OfferSchema)
