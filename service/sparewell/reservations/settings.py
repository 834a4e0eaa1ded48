"""The number of the trade that promises rest on: when they lapse."""

from __future__ import annotations

from decimal import Decimal

from sparewell.extend.fields import FieldType, Setting

HOLD_LAPSES = Setting(
    name="stock.hold_lapses_after_hours",
    title="hours after which a hold lapses",
    type=FieldType.NUMBER,
    default=None,
    nullable=True,
    minimum=Decimal(0),
    maximum=Decimal(24 * 366),
    unit="hours",
    source="the workshop's choice",
    help="null: holds stay until they are used, released or spoiled; never after fetching",
)
SETTINGS = (HOLD_LAPSES,)
