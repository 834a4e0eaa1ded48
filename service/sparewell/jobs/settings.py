"""The number of the trade that a job's worth rests on: the rate of an hour."""

from __future__ import annotations

from sparewell.extend.setting_builders import number_setting

HOURLY_RATE = number_setting(
    "worth.hourly_rate",
    "what an hour of work costs",
    None,
    "the workshop's choice",
    "null: time is not counted",
    unit="per hour",
    most=1_000_000,
)
SETTINGS = (HOURLY_RATE,)
