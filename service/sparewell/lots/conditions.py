"""What pieces are like that did not stay as they came, and how sure their material is."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Final


class Condition(StrEnum):
    """How pieces are that are not as they arrived."""

    AS_NEW = "as new"
    USED = "used"
    CUT = "cut"
    OFFCUT = "offcut"
    UNCHECKED = "unchecked"


class Confidence(StrEnum):
    """Where it is known from what pieces are made of."""

    LABEL = "label"
    TESTED = "tested"
    UNKNOWN = "unknown"


# What no measurement can promise of a piece that was in a pen before.
LOOK_FIRST: Final[Mapping[str, str]] = {
    Condition.USED: "it was used before: look whether it is still good",
    Condition.UNCHECKED: "nobody has looked at it yet: go and look",
}
