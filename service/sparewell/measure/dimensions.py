"""The shared vocabulary of dimensions: every length by which a piece can be described.

A plugin's kind chooses from these names. Each is a column of the lot table, so that one range
search serves every kind; a new name is a migration of the core.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

DIMENSIONS: Mapping[str, str] = MappingProxyType(
    {
        "outside_diameter": "outside diameter",
        "inside_diameter": "inside diameter",
        "cross_section": "cross-section",
        "thickness": "thickness (of a sac: its wall)",
        "length": "length (of a spring: its free length)",
        "width": "width",
        "height": "height",
        "depth": "depth",
        "wire_diameter": "wire diameter",
        "neck_diameter": "neck diameter",
        "tip_diameter": "tip diameter",
        "thread_diameter": "major diameter of the thread",
        "thread_lead": "lead of the thread",
    }
)

# The dimensions that may lead a search; each has a covering index on the lot table.
LEADING_DIMENSIONS = ("outside_diameter", "inside_diameter", "width", "length", "thread_diameter")
