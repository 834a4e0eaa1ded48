"""The number of the trade that parcels rest on: how far a size may be off."""

from __future__ import annotations

from sparewell.extend.setting_builders import length_setting

SIZE_TOLERANCE = length_setting(
    "supply.size_tolerance",
    "how far a bag may measure from what was ordered",
    "0.2 mm",
    "common practice, no source: half a step of the sac numbers is 0.2 mm",
    most="5 mm",
)
SETTINGS = (SIZE_TOLERANCE,)
