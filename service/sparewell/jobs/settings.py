"""The number of the trade that a job's worth rests on: the rate of an hour."""

from __future__ import annotations

from decimal import Decimal

from sparewell.extend.fields import FieldType, Setting

HOURLY_RATE = Setting(
    name="worth.hourly_rate",
    title="what an hour of work costs",
    type=FieldType.NUMBER,
    default=None,
    nullable=True,
    minimum=Decimal(0),
    maximum=Decimal(1_000_000),
    unit="per hour",
    source="the workshop's choice",
    help="null: time is not counted",
)
SETTINGS = (HOURLY_RATE,)
