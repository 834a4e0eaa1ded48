"""The number of the trade that parcels rest on: how far a size may be off."""

from __future__ import annotations

from sparewell.extend.fields import FieldType, Setting

SIZE_TOLERANCE = Setting(
    name="supply.size_tolerance",
    title="how far a bag may measure from what was ordered",
    type=FieldType.LENGTH,
    default=200_000,
    minimum=0,
    maximum=5_000_000,
    unit="mm",
    source="common practice, no source: half a step of the sac numbers is 0.2 mm",
)
SETTINGS = (SIZE_TOLERANCE,)
