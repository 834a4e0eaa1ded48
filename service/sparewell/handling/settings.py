"""The number of the trade that conversions rest on: the web between washers."""

from __future__ import annotations

from sparewell.extend.setting_builders import length_setting

PUNCH_WEB = length_setting(
    "stock.punch_web",
    "web left between punched washers",
    "1 mm",
    help_text="how much of a sheet is left is worked out with it, where nobody says",
)
SETTINGS = (PUNCH_WEB,)
