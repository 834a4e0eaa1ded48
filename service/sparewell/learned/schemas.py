"""What is learned of outcomes, in JSON."""

from __future__ import annotations

from typing import Any

from marshmallow import fields

from sparewell.edge.description import ShownSchema
from sparewell.learned.tallies import percent
from sparewell.measure.length import millimetres

_NUMBER = {"type": "number"}
_ANY = ["number", "string", "boolean", "array", "null"]


class _Percent(fields.Float):
    def _serialize(self, value: Any, *besides: Any, **options: Any) -> Any:
        return super()._serialize(percent(value), *besides, **options)


class ShareSchema(ShownSchema):
    """A share in percent, and the ends of its 95 % interval (Wilson)."""

    observed = _Percent(required=True)
    low = _Percent(required=True)
    high = _Percent(required=True)


class TallySchema(ShownSchema):
    """How much was fitted, of how much it was heard, how much failed.

    `heard_later` was heard of a month or more after fitting. `share` is null where too little was
    heard of to say anything.
    """

    fitted = fields.Integer(required=True)
    heard = fields.Integer(required=True)
    heard_later = fields.Integer(required=True)
    failed = fields.Integer(required=True)
    tight = fields.Integer(required=True, attribute="outcomes.tight")
    loose = fields.Integer(required=True, attribute="outcomes.loose")
    leaked = fields.Integer(required=True, attribute="outcomes.leaked")
    not_said = fields.Integer(required=True, attribute="unknown")
    share = fields.Nested(ShareSchema, required=True, allow_none=True)
    says = fields.String(required=True)


class _End(fields.Raw):
    """A mark's value: millimetres where it is a length, else the plain number."""

    def _serialize(self, value: Any, *_besides: Any, **_options: Any) -> Any:
        if value is None:
            return None
        return millimetres(value) if isinstance(value, int) else float(value)


class BandSchema(ShownSchema):
    """One band of a margin; an end is null where it is open, and names the setting that it is.

    `expected` says whether the settings expect it to do well; null where none speaks of it.
    """

    low = _End(required=True, allow_none=True, attribute="low.value", metadata=_NUMBER)
    low_setting = fields.String(required=True, allow_none=True, attribute="low.setting")
    high = _End(required=True, allow_none=True, attribute="high.value", metadata=_NUMBER)
    high_setting = fields.String(required=True, allow_none=True, attribute="high.setting")
    expected = fields.Boolean(required=True, allow_none=True, attribute="is_expected")
    tally = fields.Nested(TallySchema, required=True)


class MarginSchema(ShownSchema):
    """One margin of one calculator; `of` names the material or inputs that it is narrowed to."""

    calculator = fields.String(required=True)
    margin = fields.String(required=True)
    is_length = fields.Boolean(required=True)
    of = fields.Dict(
        keys=fields.String(), values=fields.String(), required=True, attribute="narrowed"
    )
    bands = fields.List(fields.Nested(BandSchema), required=True)


class MaterialTallySchema(ShownSchema):
    """What was fitted of one kind and one material; null is a material that nobody knows."""

    kind = fields.String(required=True)
    material = fields.String(required=True, allow_none=True, attribute="name")
    tally = fields.Nested(TallySchema, required=True)


class GlueTallySchema(ShownSchema):
    """What was fitted of one kind with one glue."""

    kind = fields.String(required=True)
    glue = fields.String(required=True, attribute="name")
    tally = fields.Nested(TallySchema, required=True)


class LearnedLotSchema(ShownSchema):
    """A bag, with what was split off from it; `sisters` are pens to look at when one failed."""

    lot = fields.Integer(required=True, attribute="lot_id")
    kind = fields.String(required=True, attribute="lot.kind")
    part = fields.String(required=True, allow_none=True, attribute="lot.part.number")
    label = fields.String(required=True, allow_none=True, attribute="lot.label")
    ruined = fields.Integer(
        required=True, metadata={"description": "pieces that were ruined at fitting"}
    )
    tally = fields.Nested(TallySchema, required=True)
    sisters = fields.List(fields.String(), required=True)
    sisters_in_all = fields.Integer(required=True)


class SpanSchema(ShownSchema):
    """Some months after fitting: how many were heard of then or later, how many failed in them."""

    since = fields.Integer(required=True)
    until = fields.Integer(required=True, allow_none=True)
    heard = fields.Integer(required=True)
    failed = fields.Integer(required=True)
    share = fields.Nested(ShareSchema, required=True, allow_none=True)


class KindOverMonthsSchema(ShownSchema):
    """How long one kind of piece held."""

    kind = fields.String(required=True)
    spans = fields.List(fields.Nested(SpanSchema), required=True)


class QuestionSchema(ShownSchema):
    """What speaks against a setting; whoever changes it gives the sentence as the reason."""

    setting = fields.String(required=True)
    value = fields.Raw(required=True, metadata={"type": _ANY})
    unit = fields.String(required=True)
    calculator = fields.String(required=True)
    margin = fields.String(required=True)
    tally = fields.Nested(TallySchema, required=True)
    says = fields.String(required=True)


class LearnedSchema(ShownSchema):
    """What the workshop's own outcomes say."""

    fitted = fields.Nested(TallySchema, required=True, attribute="tally")
    margins = fields.List(fields.Nested(MarginSchema), required=True)
    materials = fields.List(fields.Nested(MaterialTallySchema), required=True)
    glues = fields.List(fields.Nested(GlueTallySchema), required=True)
    lots = fields.List(fields.Nested(LearnedLotSchema), required=True, attribute="bags")
    lots_left_out = fields.Integer(required=True, attribute="bags_left_out")
    months = fields.List(fields.Nested(KindOverMonthsSchema), required=True)
    questions = fields.List(fields.Nested(QuestionSchema), required=True)
    settings = fields.List(fields.Dict(), required=True)
    notes = fields.List(fields.String(), required=True)
