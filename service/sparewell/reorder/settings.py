"""The numbers of the trade that reordering rests on."""

from __future__ import annotations

from decimal import Decimal

from sparewell.extend.fields import FieldType, Setting

COMMON_PRACTICE = "common practice, no source"
_MOST_DAYS = 3650
DEFAULT_POLICY = Setting(
    name="supply.default_policy",
    title="the policy of a part of which nothing else was said",
    type=FieldType.TEXT,
    default="keep_at_least",
    source="the workshop's choice",
    help="the name of a policy that a plugin declares, such as keep_at_least or poisson",
)
PERIOD_DAYS = Setting(
    name="supply.period_days",
    title="the period by which use is counted",
    type=FieldType.INTEGER,
    default=30,
    minimum=1,
    maximum=366,
    unit="days",
    source="the workshop's choice: most sizes are wanted 0 to 3 times a month",
)
PERIODS = Setting(
    name="supply.periods",
    title="how many periods of use are looked back at",
    type=FieldType.INTEGER,
    default=24,
    minimum=1,
    maximum=60,
    unit="periods",
    source="the workshop's choice",
    help="what was used before that says nothing of what will be",
)
WANTED_VERBS = Setting(
    name="supply.counts_as_use",
    title="what the ledger calls use",
    type=FieldType.CHOICE,
    default="fitted and spoiled",
    choices=("fitted", "fitted and spoiled", "fitted, spoiled and discarded"),
    source="common practice, no source: what is ruined at fitting has to be bought again",
)
LEAD_DAYS = Setting(
    name="supply.lead_days",
    title="days from sending an order to the parcel, where no supplier offers the part",
    type=FieldType.INTEGER,
    default=21,
    minimum=0,
    maximum=_MOST_DAYS,
    unit="days",
    source=COMMON_PRACTICE,
)
REVIEW_DAYS = Setting(
    name="supply.review_days",
    title="days from one look at the list to the next",
    type=FieldType.INTEGER,
    default=7,
    minimum=0,
    maximum=_MOST_DAYS,
    unit="days",
    source="the workshop's choice",
)
MOST_YEARS = Setting(
    name="supply.most_years_of_ageing_stock",
    title="how many years' use to hold at most of what ages",
    type=FieldType.NUMBER,
    default=Decimal("2.5"),
    minimum=Decimal("0.1"),
    maximum=Decimal(100),
    unit="years",
    source="derived: latex keeps 5 years from making, so no more than 2 to 3 years' use",
    help="for the materials that the ageing scheme gives a number of years",
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
