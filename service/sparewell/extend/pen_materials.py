"""What pens are made of, and the rule that the unknown is the worst case."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

# How sure a person is of what a component is made of. What only looks like something is not known.
LOOKS_LIKE, TESTED, OWNER_SAYS, UNKNOWN = CONFIDENCES = (
    "looks like",
    "tested",
    "owner says",
    "unknown",
)
_NOT_SURE = (LOOKS_LIKE, UNKNOWN)


def materials_of(materials: Sequence[str], components: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return all that is said of a pen's materials; an unsure one is named, and unknown besides."""
    said = [*materials]
    for component in components:
        if component["material"] is not None:
            said.append(component["material"])
        if component["confidence"] in _NOT_SURE:
            said.append(UNKNOWN)
    return said
