"""What the lines of the ledger look like in JSON."""

from __future__ import annotations

from typing import Any

from marshmallow import fields, validate

from sparewell.database.numbers import JOB_PREFIX
from sparewell.edge.description import Described, Description
from sparewell.edge.fields import DayArgument, Moment, NumberOf, Text, row_id_argument
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.ledger.tables import Verb
from sparewell.measure.money import money_text


class MoneyChange(fields.String):
    """An amount that was gained or lost; only ever sent."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> Any:
        return super()._serialize(money_text(value), attr, obj, **options)


class MovementDescription(Description):
    """One line of the ledger."""

    id = Described(fields.Integer(), export="id")
    group = Described(fields.Integer(), export="group", kept=("act_id",))
    undoes = Described(
        fields.Integer(metadata={"description": "the group that this one undoes"}),
        nullable=True,
        export="undoes",
        read="act.undoes_act_id",
    )
    at = Described(Moment(), export="at", read="act.at")
    lot = Described(fields.Integer(), export="lot", kept=("lot_id",))
    verb = Described(fields.String(), export="verb")
    change = Described(fields.Integer(), export="change")
    pieces = Described(fields.Integer(), export="pieces")
    cost_change = Described(MoneyChange(), export="cost change", kept=("cost_change_minor",))
    place = Described(fields.String(), export="place", kept=("place_id",), read="place.code")
    from_place = Described(
        fields.String(),
        nullable=True,
        export="from place",
        kept=("from_place_id",),
        read="from_place.code",
    )
    reservation = Described(
        fields.Integer(), nullable=True, export="reservation", kept=("reservation_id",)
    )
    job = Described(NumberOf(JOB_PREFIX), nullable=True, export="job", kept=("job_id",))
    actor = Described(fields.String(), export="actor", read="act.actor")
    person = Described(fields.String(), nullable=True, export="person", read="act.person")
    note = Described(fields.String(), export="note", read="act.note")


MovementSchema = MovementDescription.shows("Movement")


class MovementArguments(PageArguments):
    """How the ledger may be narrowed."""

    lot = row_id_argument()
    job = Text(longest=40)
    reservation = row_id_argument()
    group = row_id_argument()
    verb = fields.String(validate=validate.OneOf(tuple(Verb)))
    since = DayArgument(metadata={"description": "only lines of this day (UTC) and later"})


MovementPageSchema = page_schema("movements", MovementSchema)
