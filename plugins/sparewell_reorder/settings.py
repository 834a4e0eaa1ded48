"""The numbers that the policies rest on, and what a part may choose for itself."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import Field, FieldType, Inputs, Setting

LEAST_LEVEL, HIGHEST_LEVEL = Decimal("0.5"), Decimal("0.9999")
MOST_PIECES = 10_000
_MOST_DAYS = 3650

SERVICE_LEVEL: Final = Setting(
    name="reorder.service_level",
    title="chance to see an order through without running out",
    type=FieldType.NUMBER,
    default=Decimal("0.95"),
    source="common practice, no source",
    minimum=LEAST_LEVEL,
    maximum=HIGHEST_LEVEL,
)
KEEP_AT_LEAST: Final = Setting(
    name="reorder.keep_at_least",
    title="how many pieces to keep of a part that says nothing else",
    type=FieldType.INTEGER,
    default=2,
    source="common practice, no source: a hobbyist holds 2 to 10 of each common size",
    unit="pieces",
    minimum=0,
    maximum=MOST_PIECES,
)
COVER_DAYS: Final = Setting(
    name="reorder.cover_days",
    title="for how long an order should last beyond its threshold",
    type=FieldType.NUMBER,
    default=Decimal(90),
    source="the workshop's choice",
    unit="days",
    minimum=Decimal(0),
    maximum=Decimal(_MOST_DAYS),
)
SMOOTHING: Final = Setting(
    name="reorder.smoothing",
    title="how much the latest wish counts in a forecast",
    type=FieldType.NUMBER,
    default=Decimal("0.1"),
    source="common practice, no source: 0.05 to 0.2 for parts that are seldom wanted",
    minimum=Decimal("0.01"),
    maximum=Decimal(1),
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
