"""The numbers of the trade that a job's worth and its pace rest on."""

from __future__ import annotations

from sparewell.extend.setting_builders import COMMON_PRACTICE, count_setting, number_setting

HOURLY_RATE = number_setting(
    "worth.hourly_rate",
    "what an hour of work costs",
    None,
    "the workshop's choice",
    "null: time is not counted",
    unit="per hour",
    most=1_000_000,
)
MINUTES_A_STEP = count_setting(
    "pace.minutes_a_step",
    "how long a step takes by hand, on the mean",
    10,
    COMMON_PRACTICE,
    "the evening's minutes are counted by it",
    unit="minutes",
    least=1,
    most=600,
)
SHELLAC_SETS = number_setting(
    "pace.shellac_sets",
    "how long shellac is left to set",
    8,
    COMMON_PRACTICE,
    "half an hour to overnight at a sac joint; at least 8 hours for a built-up coat",
    unit="hours",
    most=720,
)
ADHESIVE_SETS = number_setting(
    "pace.adhesive_sets",
    "how long silicone adhesive is left to set",
    24,
    unit="hours",
    most=720,
)
STANDS = number_setting(
    "pace.stands",
    "how long a filled pen stands before it is looked at",
    12,
    COMMON_PRACTICE,
    "nib down overnight, then a night capped",
    unit="hours",
    most=720,
)
SETTINGS = (HOURLY_RATE, MINUTES_A_STEP, SHELLAC_SETS, ADHESIVE_SETS, STANDS)
