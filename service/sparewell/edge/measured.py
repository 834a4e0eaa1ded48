"""What was measured on pieces, in JSON: a length, or one with its spread and its instrument."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma

from sparewell.edge.fields import DimensionMap, Text, length_schema
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.entered import EnteredLength, MeasuredLength
from sparewell.measure.length import LengthError, millimetres, parse_length

LONGEST_INSTRUMENT = 100
_MEMBERS = ("value", "spread", "instrument")
_GIVE = 'give the length alone, or {"value": "7.00 mm", "spread": "0.01 mm", "instrument": "…"}'
_INSTRUMENT = Text(longest=LONGEST_INSTRUMENT, allow_none=True)


class MeasuredMap(DimensionMap):
    """An object of measured lengths by the name of the dimension."""

    def _of_one(self) -> dict[str, Any]:
        length = length_schema()
        return length | {
            "type": [*length["type"], "object"],
            "properties": {
                "value": length_schema(),
                "spread": {
                    **length_schema(zero_allowed=True),
                    "type": ["number", "string", "null"],
                    "description": "how far the value may be off, either way",
                },
                "instrument": {"type": ["string", "null"], "maxLength": LONGEST_INSTRUMENT},
            },
            "required": ["value"],
            "additionalProperties": False,
        }

    def _read(self, raw: Any) -> EnteredLength:
        if not isinstance(raw, Mapping):
            return super()._read(raw)
        if "value" not in raw or any(name not in _MEMBERS for name in raw):
            raise LengthError(_GIVE)
        plain, spread = super()._read(raw["value"]), raw.get("spread")
        try:
            off = None if spread is None else _spread(spread)
            instrument = _INSTRUMENT.deserialize(raw.get("instrument"))
        except LengthError as error:
            raise LengthError(f"spread: {error}") from error
        except ma.ValidationError as error:
            raise LengthError(f"instrument: {'; '.join(map(str, error.messages))}") from error
        return MeasuredLength(plain.nanometres, plain.text, off, instrument)


def _spread(raw: Any) -> EnteredLength:
    return EnteredLength(parse_length(raw, zero_allowed=True), str(raw).strip())


class HowMeasuredMap(ma.fields.Field[Any]):
    """How each dimension was measured, by its name; only ever sent. Lengths are millimetres."""

    def __init__(self, **options: Any) -> None:
        one = {
            "type": "object",
            "properties": {
                "spread": {"type": ["number", "null"]},
                "instrument": {"type": ["string", "null"]},
            },
        }
        metadata = {
            "type": "object",
            "description": "the spread and the instrument of what was measured, where they are "
            "known; a reading that is given anew without them has none",
            "properties": dict.fromkeys(DIMENSIONS, one),
            "additionalProperties": False,
        }
        super().__init__(metadata=metadata, dump_only=True, **options)

    def _serialize(self, value: Any, *_besides: Any, **_options: Any) -> Any:
        return {
            name: {
                "spread": None
                if how.get("spread_nanometres") is None
                else millimetres(how["spread_nanometres"]),
                "instrument": how.get("instrument"),
            }
            for name, how in value.items()
        }
