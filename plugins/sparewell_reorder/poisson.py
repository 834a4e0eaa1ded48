"""Poisson demand: how many pieces are wanted in a time, when each wish comes by itself.

The least reorder point r with P(demand <= r) at or above a level is the textbook rule for no
stock-out in the lead time; see any text on inventory, such as Fundamentals of Supply Chain Theory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

HIGHEST_MEAN = 100_000
_LEAST_PROBABILITY = 1e-30  # what lies beyond adds nothing that a float can tell


def _probabilities(mean: float) -> Iterator[tuple[int, float]]:
    """Yield each number that has any chance with its probability, from the lowest upwards.

    They are reckoned from the likeliest number outwards, where nothing underflows.
    """
    if mean == 0:
        yield 0, 1.0
        return
    middle = math.floor(mean)
    likeliest = math.exp(middle * math.log(mean) - mean - math.lgamma(middle + 1))
    below = []
    number, probability = middle, likeliest
    while number > 0 and probability > _LEAST_PROBABILITY:
        probability *= number / mean
        number -= 1
        below.append((number, probability))
    yield from reversed(below)
    number, probability = middle, likeliest
    while probability > _LEAST_PROBABILITY:
        yield number, probability
        number += 1
        probability *= mean / number


def at_most(mean: float, number: int) -> float:
    """Return P(demand <= number)."""
    total = math.fsum(each for value, each in _probabilities(mean) if value <= number)
    return min(1.0, total)


def least_covering(mean: float, level: float) -> tuple[int, float]:
    """Return the least r with P(demand <= r) >= level, and that probability."""
    total = 0.0
    number = 0
    for number, probability in _probabilities(mean):  # noqa: B007 - the last one counts
        total += probability
        if total >= level:
            break
    return number, min(1.0, total)


def expected_beyond(mean: float, number: int) -> float:
    """Return E[(demand - number)+], the pieces that could not be had."""
    return math.fsum(
        (value - number) * each for value, each in _probabilities(mean) if value > number
    )


def share_served(mean: float, base_stock: int) -> float:
    """Return the share of wishes served at once from a stock filled up one for one."""
    return at_most(mean, base_stock - 1) if base_stock > 0 else 0.0
