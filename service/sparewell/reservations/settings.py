"""The number of the trade that promises rest on: when they lapse."""

from __future__ import annotations

from sparewell.extend.setting_builders import number_setting

HOLD_LAPSES = number_setting(
    "stock.hold_lapses_after_hours",
    "hours after which a hold lapses",
    None,
    "the workshop's choice",
    "null: holds stay until they are used, released or spoiled; never after fetching",
    unit="hours",
    most=24 * 366,
)
SETTINGS = (HOLD_LAPSES,)
