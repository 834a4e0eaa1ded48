"""The numbers of the trade that say which pens are alike."""

from __future__ import annotations

from sparewell.extend.setting_builders import length_setting, text_setting

ALIKE_TOLERANCE = length_setting(
    "alike.tolerance",
    "how far the readings of two like pens may lie apart",
    "0.3 mm",
    help_text="pens of one filling system within it are alike, whatever is noted of their model",
    most="5 mm",
)
ALIKE_READINGS = text_setting(
    "alike.readings",
    "the leading readings by which two pens are compared",
    "barrel_bore, guard_bore, nipple_diameter, bore, rod",
    help_text="names with commas between; those a pen has, the other must have too",
)
SETTINGS = (ALIKE_READINGS, ALIKE_TOLERANCE)
