"""The number of the trade that conversions rest on: the web between washers."""

from __future__ import annotations

from sparewell.extend.fields import FieldType, Setting

PUNCH_WEB = Setting(
    name="stock.punch_web",
    title="web left between punched washers",
    type=FieldType.LENGTH,
    default=1_000_000,
    unit="mm",
    minimum=0,
    maximum=20_000_000,
    source="common practice, no source",
    help="how much of a sheet is left is worked out with it, where nobody says",
)
SETTINGS = (PUNCH_WEB,)
