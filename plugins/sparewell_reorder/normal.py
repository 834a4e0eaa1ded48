"""Normal demand: a steady stream, so many a period give or take.

Safety stock z sigma sqrt(L), and with a lead time that varies the standard deviation
sqrt(L sigma^2 + mean^2 sigma_L^2): any text on inventory, such as Introduction to Operations
Research.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

STANDARD = NormalDist()


@dataclass(frozen=True)
class LeadTimeDemand:
    """What is wanted until the parcel is here."""

    mean: float
    deviation: float


def lead_time_demand(
    mean: float, deviation: float, periods: float, periods_deviation: float = 0.0
) -> LeadTimeDemand:
    """Return the demand over a lead time from the demand of one period."""
    variance = periods * deviation**2 + mean**2 * periods_deviation**2
    return LeadTimeDemand(mean * periods, math.sqrt(variance))


def reorder_point(demand: LeadTimeDemand, level: float) -> tuple[float, float]:
    """Return the reorder point and the safety stock in it; the level is below 1."""
    safety_stock = STANDARD.inv_cdf(level) * demand.deviation
    return demand.mean + safety_stock, safety_stock


def level_of(demand: LeadTimeDemand, stock: float) -> float:
    """Return P(demand <= stock)."""
    if demand.deviation == 0:
        return 1.0 if stock >= demand.mean else 0.0
    return STANDARD.cdf((stock - demand.mean) / demand.deviation)


def loss(z: float) -> float:
    """Return the standard normal loss, E[(Z - z)+]."""
    return STANDARD.pdf(z) - z * (1 - STANDARD.cdf(z))


def second_loss(z: float) -> float:
    """Return the loss of the loss, half of E[((Z - z)+)^2]."""
    return ((z * z + 1) * (1 - STANDARD.cdf(z)) - z * STANDARD.pdf(z)) / 2
