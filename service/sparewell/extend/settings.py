"""How the numbers of the trade are shown beside the answers that rest on them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from sparewell.extend.fields import FieldType, Setting, Value
from sparewell.extend.host import Declarations
from sparewell.measure.length import millimetres


def shown(setting: Setting, value: Value | None) -> object:
    """Return a setting's value as JSON shows it: lengths in millimetres."""
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, tuple):
        return [millimetres(item) for item in value]
    if setting.type is FieldType.LENGTH and isinstance(value, int):
        return millimetres(value)
    return float(value) if isinstance(value, Decimal) else value


def settings_used(
    names: Iterable[str], values: Mapping[str, Value | None], declared: Declarations
) -> list[dict[str, object]]:
    """Return the settings an answer rests on, each with its value and source."""
    return [
        {
            "name": name,
            "value": shown(declared.settings[name], values[name]),
            "unit": unit_of(declared.settings[name]),
            "source": declared.settings[name].source,
        }
        for name in sorted(names)
    ]


def unit_of(setting: Setting) -> str:
    """Return the unit a setting is shown in."""
    return setting.unit or ("mm" if setting.type in (FieldType.LENGTH, FieldType.LENGTHS) else "")
