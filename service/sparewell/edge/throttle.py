"""Slowing down whoever guesses tokens.

Each address may fail so often at once, and again at intervals; past that a wrong token is refused
with how long to wait. A right one is looked up before anything is refused, and is always served:
whoever guesses slows nobody but guessers, and 256 random bits are found by no guessing. Counts are
kept in memory, for each server process.
"""

from __future__ import annotations

import ipaddress
import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable

FAILURES_AT_ONCE = 20
SECONDS_PER_FURTHER_ONE = 3.0
MOST_ADDRESSES = 10_000
_SIX_PREFIX = 64  # a stranger commonly has a whole /64 to call from


class FailedAttempts:
    """Counts failures by address: an allowance that fills up again as time goes by."""

    def __init__(
        self,
        *,
        at_once: int = FAILURES_AT_ONCE,
        seconds_per_further_one: float = SECONDS_PER_FURTHER_ONE,
        stopwatch: Callable[[], float] = time.monotonic,
    ) -> None:
        self._at_once = at_once
        self._seconds = seconds_per_further_one
        self._stopwatch = stopwatch
        self._lock = threading.Lock()
        # For each address the moment from which its allowance is whole again.
        self._whole_at: OrderedDict[str, float] = OrderedDict()

    def wait_seconds(self, address: str) -> int:
        """Return how long this address has to wait before its next failure; 0 when it may fail."""
        with self._lock:
            owed = self._whole_at.get(_group(address), 0.0) - self._stopwatch()
        return max(0, math.ceil(owed - (self._at_once - 1) * self._seconds))

    def failed(self, address: str) -> None:
        """Note a failure."""
        group, now = _group(address), self._stopwatch()
        with self._lock:
            self._whole_at[group] = max(now, self._whole_at.get(group, now)) + self._seconds
            self._whole_at.move_to_end(group)
            if len(self._whole_at) > MOST_ADDRESSES:
                self._whole_at.popitem(last=False)


def _group(address: str) -> str:
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if found.version == 4:  # noqa: PLR2004 - IPv4
        return address
    return str(ipaddress.ip_network((found, _SIX_PREFIX), strict=False))
