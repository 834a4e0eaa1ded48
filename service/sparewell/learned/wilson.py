"""The interval that a share lies in, of which some cases are known.

E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of the
American Statistical Association 22 (1927) 209-212: the score interval without a correction. Of the
seven that R. G. Newcombe compared (Statistics in Medicine 17 (1998) 857-872) it is method 3. It
holds for few cases and for none that failed, where p plus or minus its deviation does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist
from typing import Final

_TWO_SIDED_95: Final = NormalDist().inv_cdf(0.975)


@dataclass(frozen=True)
class Proportion:
    """A share of cases, and the ends of the interval that holds the true one 95 times in 100."""

    observed: float
    low: float
    high: float


def wilson(failed: int, known: int) -> Proportion:
    """Return the share that failed of what is known, of which there must be some."""
    square = _TWO_SIDED_95**2
    middle = 2 * failed + square
    width = _TWO_SIDED_95 * sqrt(square + 4 * failed * (known - failed) / known)
    whole = 2 * (known + square)
    # At the ends one term of the other takes it all away, but for what rounding leaves.
    low = 0.0 if failed == 0 else (middle - width) / whole
    high = 1.0 if failed == known else (middle + width) / whole
    return Proportion(failed / known, low, high)
