"""The numbers of the trade that reordering rests on."""

from __future__ import annotations

from sparewell.extend.setting_builders import (
    choice_setting,
    count_setting,
    number_setting,
    text_setting,
)

_MOST_DAYS = 3650
DEFAULT_POLICY = text_setting(
    "supply.default_policy",
    "the policy of a part of which nothing else was said",
    "keep_at_least",
    "the workshop's choice",
    "the name of a policy that a plugin declares, such as keep_at_least or poisson",
)
PERIOD_DAYS = count_setting(
    "supply.period_days",
    "the period by which use is counted",
    30,
    "the workshop's choice: most sizes are wanted 0 to 3 times a month",
    unit="days",
    most=366,
)
PERIODS = count_setting(
    "supply.periods",
    "how many periods of use are looked back at",
    24,
    "the workshop's choice",
    "what was used before that says nothing of what will be",
    unit="periods",
    most=60,
)
WANTED_VERBS = choice_setting(
    "supply.counts_as_use",
    "what the ledger calls use",
    "fitted and spoiled",
    "common practice, no source: what is ruined at fitting has to be bought again",
    choices=("fitted", "fitted and spoiled", "fitted, spoiled and discarded"),
)
LEAD_DAYS = count_setting(
    "supply.lead_days",
    "days from sending an order to the parcel, where no supplier offers the part",
    21,
    unit="days",
    least=0,
    most=_MOST_DAYS,
)
REVIEW_DAYS = count_setting(
    "supply.review_days",
    "days from one look at the list to the next",
    7,
    "the workshop's choice",
    unit="days",
    least=0,
    most=_MOST_DAYS,
)
MOST_YEARS = number_setting(
    "supply.most_years_of_ageing_stock",
    "how many years' use to hold at most of what ages",
    "2.5",
    "derived: latex keeps 5 years from making, so no more than 2 to 3 years' use",
    "for the materials that the ageing scheme gives a number of years",
    unit="years",
    least="0.1",
)
SETTINGS = (
    DEFAULT_POLICY,
    LEAD_DAYS,
    MOST_YEARS,
    PERIOD_DAYS,
    PERIODS,
    REVIEW_DAYS,
    WANTED_VERBS,
)
