"""The numbers that the policies rest on, and what a part may choose for itself."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import Field, FieldType, Inputs, count_setting, number_setting

LEAST_LEVEL, HIGHEST_LEVEL = Decimal("0.5"), Decimal("0.9999")
MOST_PIECES = 10_000
_MOST_DAYS = 3650

SERVICE_LEVEL: Final = number_setting(
    "reorder.service_level",
    "chance to see an order through without running out",
    "0.95",
    least=LEAST_LEVEL,
    most=HIGHEST_LEVEL,
)
KEEP_AT_LEAST: Final = count_setting(
    "reorder.keep_at_least",
    "how many pieces to keep of a part that says nothing else",
    2,
    "common practice, no source: a hobbyist holds 2 to 10 of each common size",
    unit="pieces",
    least=0,
    most=MOST_PIECES,
)
COVER_DAYS: Final = number_setting(
    "reorder.cover_days",
    "for how long an order should last beyond its threshold",
    "90",
    "the workshop's choice",
    unit="days",
    most=_MOST_DAYS,
)
SMOOTHING: Final = number_setting(
    "reorder.smoothing",
    "how much the latest wish counts in a forecast",
    "0.1",
    "common practice, no source: 0.05 to 0.2 for parts that are seldom wanted",
    least="0.01",
    most="1",
)

LEVEL_FIELD: Final = Field(
    name="service_level",
    title="Service level",
    type=FieldType.NUMBER,
    help="The chance to see an order through without running out, such as 0.95.",
    minimum=LEAST_LEVEL,
    maximum=HIGHEST_LEVEL,
)
SMOOTHING_FIELD: Final = Field(
    name="smoothing",
    title="Smoothing",
    type=FieldType.NUMBER,
    help="How much the latest wish counts, such as 0.1.",
    minimum=Decimal("0.01"),
    maximum=Decimal(1),
)


def level_of(inputs: Inputs) -> float:
    """Return the service level that was chosen, or the workshop's."""
    chosen = inputs.number("service_level")
    return float(inputs.setting_number(SERVICE_LEVEL.name) if chosen is None else chosen)


def smoothing_of(inputs: Inputs) -> float:
    """Return the smoothing that was chosen, or the workshop's."""
    chosen = inputs.number("smoothing")
    return float(inputs.setting_number(SMOOTHING.name) if chosen is None else chosen)
