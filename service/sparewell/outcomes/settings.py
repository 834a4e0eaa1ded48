"""The numbers of the trade that say which pens are alike."""

from __future__ import annotations

from sparewell.extend.fields import FieldType, Setting

ALIKE_TOLERANCE = Setting(
    name="alike.tolerance",
    title="how far the readings of two like pens may lie apart",
    type=FieldType.LENGTH,
    default=300_000,
    minimum=0,
    maximum=5_000_000,
    unit="mm",
    source="common practice, no source",
    help="pens of one filling system within it are alike, whatever is noted of their model",
)
ALIKE_READINGS = Setting(
    name="alike.readings",
    title="the leading readings by which two pens are compared",
    type=FieldType.TEXT,
    default="barrel_bore, guard_bore, nipple_diameter, bore, rod",
    source="common practice, no source",
    help="names with commas between; those a pen has, the other must have too",
)
SETTINGS = (ALIKE_READINGS, ALIKE_TOLERANCE)
