"""Which rubber stands which duty, grease and flush. A material that is unknown is the worst case.

The ratings are what elastomer handbooks say in general; none of it was measured on pens.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from sparewell.plugin import Inputs
from sparewell_o_rings.glands import Duty
from sparewell_o_rings.kind import MATERIALS

HANDBOOKS: Final = "elastomer handbooks, general knowledge, not made for pens"

GREASES: Final = ("silicone", "petroleum", "none")
FLUSHES: Final = ("water", "ammonia", "none")


class Rating(StrEnum):
    """How a material stands something, the best first."""

    VERY_GOOD = "very_good"
    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"
    NO = "no"


_FIRST_CHOICE: Final = "nbr"
_ORDER: Final = {rating: place for place, rating in enumerate(Rating)}
UNSUITABLE: Final = frozenset({Rating.POOR, Rating.NO})
MATERIAL_WORDS: Final = {"nbr": "NBR", "epdm": "EPDM", "silicone": "silicone", "fkm": "FKM"}

# (rating, what happens) by what the ring meets, then by material.
_Table = Mapping[str, tuple[Rating, str]]
_INK: Final[_Table] = {
    "nbr": (Rating.GOOD, "stands water-based ink"),
    "epdm": (Rating.VERY_GOOD, "stands water-based ink very well"),
    "silicone": (Rating.GOOD, "stands water-based ink"),
    "fkm": (Rating.GOOD, "stands water-based ink"),
}
_MOVING: Final[_Table] = {
    "nbr": (Rating.GOOD, "wears well on a moving rod"),
    "epdm": (Rating.GOOD, "wears well on a moving rod"),
    "silicone": (Rating.POOR, "tears on a moving rod"),
    "fkm": (Rating.GOOD, "wears well on a moving rod"),
}
_GREASE: Final[Mapping[str, _Table]] = {
    "silicone": {
        "nbr": (Rating.GOOD, "stands silicone grease"),
        "epdm": (Rating.GOOD, "stands silicone grease"),
        "silicone": (Rating.NO, "may swell or soften in silicone grease"),
        "fkm": (Rating.GOOD, "stands silicone grease"),
    },
    "petroleum": {
        "nbr": (Rating.GOOD, "stands petroleum jelly and oil"),
        "epdm": (Rating.NO, "swells in petroleum jelly and oil"),
        "silicone": (Rating.FAIR, "stands petroleum jelly fairly"),
        "fkm": (Rating.GOOD, "stands petroleum jelly and oil"),
    },
}
_FLUSH: Final[Mapping[str, _Table]] = {
    "water": {
        "nbr": (Rating.GOOD, "stands water"),
        "epdm": (Rating.VERY_GOOD, "stands water very well"),
        "silicone": (Rating.GOOD, "stands water"),
        "fkm": (Rating.GOOD, "stands water"),
    },
    "ammonia": {
        "nbr": (Rating.FAIR, "stands dilute ammonia fairly: rinse soon"),
        "epdm": (Rating.GOOD, "stands dilute ammonia"),
        "silicone": (Rating.GOOD, "stands dilute ammonia"),
        "fkm": (Rating.POOR, "is attacked by ammonia and amines"),
    },
}
GAS_TIGHTNESS: Final = {
    "nbr": Rating.GOOD,
    "epdm": Rating.FAIR,
    "silicone": Rating.POOR,
    "fkm": Rating.VERY_GOOD,
}


@dataclass(frozen=True)
class Suitability:
    """How one material stands everything that was asked for: the worst of it."""

    material: str
    rating: Rating
    why: str

    @property
    def is_unsuitable(self) -> bool:
        """Whether something would harm it."""
        return self.rating in UNSUITABLE


def suitability_of(material: str, duty: Duty, grease: str | None, flush: str | None) -> Suitability:
    """Return the rating of one of the known materials, and the reasons, the gravest first."""
    met = sorted(_met(material, duty, grease, flush), key=lambda each: -_ORDER[each[0]])
    worst = met[0][0]
    told = [words for rating, words in met if rating is worst or rating in UNSUITABLE]
    return Suitability(material, worst, f"{MATERIAL_WORDS[material]} {', and '.join(told)}")


def suitabilities_of(inputs: Inputs, duty: Duty) -> Sequence[Suitability]:
    """Return all materials for the duty, grease and flush asked for, the first choice first.

    Nitrile is what one takes wherever it is good (common practice, no source); a better rating of
    another decides only where it is not, and among equals the gas-tight ones go first.
    """
    grease, flush = inputs.text("grease"), inputs.text("flush")
    found = [suitability_of(material, duty, grease, flush) for material in MATERIALS]
    found.sort(
        key=lambda each: (
            max(_ORDER[each.rating], _ORDER[Rating.GOOD]),
            each.material != _FIRST_CHOICE,
            _ORDER[each.rating],
            _ORDER[GAS_TIGHTNESS[each.material]],
        )
    )
    return found


def _met(
    material: str, duty: Duty, grease: str | None, flush: str | None
) -> Iterator[tuple[Rating, str]]:
    """Yield the rating of everything that the ring meets."""
    yield _INK[material]
    if duty is Duty.MOVING:
        yield _MOVING[material]
    if grease is not None and grease in _GREASE:
        yield _GREASE[grease][material]
    if flush is not None and flush in _FLUSH:
        yield _FLUSH[flush][material]
