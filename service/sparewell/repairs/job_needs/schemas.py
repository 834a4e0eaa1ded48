"""What needs and the list of what is to be fetched look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import Flag, Moment, Schema, Text, note, pieces
from sparewell.repairs.filling_systems.schemas import given_map, materials_list, reads_map

NEED_STATES = ("open", "promised", "met", "undecided", "dropped")


class NeedSchema(Schema):
    """One thing a job needs, and how it stands.

    `paired_with` are the needs that are replaced together with it. A dropped one says why.
    """

    id = fields.Integer(required=True)
    kind = fields.String(required=True)
    quantity = fields.Integer(required=True)
    at_most = fields.Integer(required=True, allow_none=True)
    calculator = fields.String(required=True, allow_none=True)
    given = fields.Dict(required=True)
    reads = fields.Dict(keys=fields.String(), values=fields.String(), required=True)
    materials = materials_list(required=True)
    optional = fields.Boolean(required=True)
    seals_where = fields.String(required=True)
    together = fields.String(required=True)
    paired_with = fields.List(fields.Integer(), required=True)
    note = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(NEED_STATES))
    promised = fields.Integer(required=True)
    used = fields.Integer(required=True)
    dropped_at = Moment(required=True)
    dropped_by = fields.String(required=True, allow_none=True)
    dropped_why = fields.String(required=True, allow_none=True)


class NewNeedSchema(Schema):
    """A need that the template did not foresee."""

    kind = Text(longest=40, required=True)
    seals_where = Text(required=True)
    quantity = pieces(load_default=1)
    calculator = Text(longest=40, load_default=None, allow_none=True)
    optional = Flag(load_default=False)
    given = given_map(load_default=dict)
    reads = reads_map(load_default=dict)
    materials = materials_list(load_default=list)
    together = Text(longest=100, empty_allowed=True, load_default="")
    note = note()


class ChangedNeedSchema(Schema):
    """What may be changed of a need: what is wanted, what sizes it, and whether it is wanted.

    `decided` settles one that waited for the pen to be open; `dropped` needs its reason, and false
    takes the need back.
    """

    quantity = pieces(
        metadata={"description": "how many are wanted; takes the place of a range, at_most"}
    )
    optional = Flag()
    calculator = Text(longest=40, allow_none=True)
    given = given_map()
    reads = reads_map()
    materials = materials_list()
    note = Text(longest=2000, empty_allowed=True)
    decided = Flag(
        validate=validate.OneOf([True], error="only true: what was decided stays decided")
    )
    dropped = Flag()
    why = Text(longest=2000)

    @ma.validates_schema
    def dropping_has_a_reason(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse dropping without a reason, and a reason without dropping."""
        if bool(data.get("dropped")) != ("why" in data):
            raise ma.ValidationError(
                'a reason comes with {"dropped": true} and only with it', "why"
            )


class ToFetchSchema(Schema):
    """Pieces that are promised and lie in their place."""

    reservation = fields.Integer(required=True)
    need = fields.Integer(required=True, allow_none=True)
    lot = fields.Integer(required=True)
    part = fields.String(required=True, allow_none=True)
    kind = fields.String(required=True)
    label = fields.String(required=True, allow_none=True)
    quantity = fields.Integer(required=True)


class PlaceToFetchFromSchema(Schema):
    """A place, and what is to be fetched from it."""

    place = fields.String(required=True)
    pieces = fields.List(fields.Nested(ToFetchSchema), required=True)


class FetchListSchema(Schema):
    """What is to be fetched for a job, in the order of the places."""

    job = fields.String(required=True)
    places = fields.List(fields.Nested(PlaceToFetchFromSchema), required=True)
