"""JSON as RFC 8259 and I-JSON (RFC 7493) mean it, and numbers as decimals.

Refused: NaN and infinities, members given twice, lone surrogates, nesting without end, and numbers
of more digits than any length or count could need.
"""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

from flask.json.provider import DefaultJSONProvider

MOST_DIGITS = 60
DEEPEST = 32


class StrictJSONProvider(DefaultJSONProvider):
    """The app's JSON; every refusal is a ValueError, which the edge answers with 400."""

    sort_keys = False
    ensure_ascii = False

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        """Parse one document. Raises ValueError."""
        try:
            text = s.decode("utf-8") if isinstance(s, bytes) else s
            value = json.loads(
                text,
                parse_float=_decimal,
                parse_int=_integer,
                parse_constant=_refuse_constant,
                object_pairs_hook=_unique,
                **kwargs,
            )
        except UnicodeDecodeError as error:
            raise ValueError("the body is not UTF-8") from error
        except RecursionError as error:
            raise ValueError("the body is nested too deeply") from error
        _check_depth(value)
        _check_characters(value)
        return value


def _decimal(text: str) -> Decimal:
    if len(text) > MOST_DIGITS:
        raise ValueError(f"a number of more than {MOST_DIGITS} characters")
    return Decimal(text)


def _integer(text: str) -> int:
    if len(text) > MOST_DIGITS:
        raise ValueError(f"a number of more than {MOST_DIGITS} digits")
    return int(text)


def _refuse_constant(text: str) -> Any:
    raise ValueError(f"{text} is not JSON")


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise ValueError(f"the member {name[:40]!r} is given twice")
        found[name] = value
    return found


def _check_depth(value: Any) -> None:
    layer, depth = [value], 0
    while layer:
        depth += 1
        if depth > DEEPEST:
            raise ValueError(f"the body is nested more than {DEEPEST} deep")
        inner: list[Any] = []
        for item in layer:
            if isinstance(item, dict):
                inner.extend(item.values())
            elif isinstance(item, list):
                inner.extend(item)
        layer = [item for item in inner if isinstance(item, dict | list)]


def _check_characters(value: Any) -> None:
    """Refuse lone surrogates (RFC 7493 section 2.1), which no database and no answer can hold."""
    try:
        json.dumps(value, ensure_ascii=False, default=str).encode("utf-8")
    except UnicodeEncodeError as error:
        raise ValueError("a lone surrogate is not a character") from error
