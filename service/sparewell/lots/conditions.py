"""What has to be said of pieces that are not, or may not be, as they came."""

from __future__ import annotations

from typing import Final

UNCHECKED: Final = "unchecked"


# What no measurement can promise of a piece that was in a pen before.
LOOK_FIRST: Final = {
    "used": "it was used before: look whether it is still good",
    UNCHECKED: "nobody has looked at it yet: go and look",
}
