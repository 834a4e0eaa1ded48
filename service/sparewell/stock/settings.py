"""The settings of the stock itself."""

from __future__ import annotations

from decimal import Decimal

from sparewell.extend.fields import FieldType, Setting

AGEING_SCHEME = Setting(
    name="stock.ageing_scheme",
    title="scheme that dates stored rubber",
    type=FieldType.CHOICE,
    choices=("workshop", "iso2230", "arp5316"),
    default="workshop",
    source="the workshop's choice: the schemes are not comparable year for year",
    help="every fit_by date comes from this scheme alone",
)
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
STOCK_SETTINGS = (AGEING_SCHEME, HOLD_LAPSES, PUNCH_WEB)
