"""What to check when a pen takes less than it should: the easiest and likeliest first.

The order is common practice, no source: first how it was filled, then what can be seen, then what
must be opened. Nothing is listed for a difference that the weighing itself could have made.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from fractions import Fraction
from typing import Final

from sparewell.plugin import number_text
from sparewell_fills.filling import ExpectedFill
from sparewell_fills.inputs import System
from sparewell_fills.weighing import WeighedFill, WeighingVerdict


class Check(StrEnum):
    """One thing to look at."""

    TECHNIQUE = "technique"
    SAC = "sac_too_long_or_stiff"
    VENT = "vent"
    TAIL_RING = "tail_ring"
    THREADS = "threads"
    POINT_SEAL = "point_seal"
    BAR = "bar"
    BREATHER_TUBE = "breather_tube"
    NIPPLE_JOINT = "nipple_joint"
    FEED = "feed"
    TRAVEL = "travel"
    PISTON_SEAL = "piston_seal"
    HEAD_WASHER = "head_washer"
    PACKING = "packing"
    WEIGHING = "weighing"
    READINGS = "readings"


_PNEUMATIC: Final = (
    (
        Check.TECHNIQUE,
        (
            "Draw the plunger out to its stop, nib and the whole of its vent under water, push in "
            "one smooth stroke, and keep the nib under for ten seconds while the sac springs back."
        ),
    ),
    (
        Check.SAC,
        (
            "A sac that touches the end of its guard folds, and one of thick or aged rubber will "
            "not collapse: shorten it, or fit thin latex."
        ),
    ),
    (
        Check.VENT,
        (
            "Where the vent at the bottom of the stroke is blocked, the pressure stays and the sac "
            "cannot spring back. Clear it; do not widen it."
        ),
    ),
    (
        Check.TAIL_RING,
        (
            "The ring at the tail lets air away during the stroke. Close the front with a finger "
            "and push: the plunger should push back."
        ),
    ),
    (
        Check.THREADS,
        (
            "The thread of the section must be airtight: seal it with a rosin-type thread sealant, "
            "and look for a crack in the barrel."
        ),
    ),
    (
        Check.POINT_SEAL,
        (
            "With an extending fill tube only: a point seal that leaks part-fills the pen and lets "
            "ink into the works, which corrodes them."
        ),
    ),
)

_SAC: Final = (
    (
        Check.TECHNIQUE,
        (
            "Work the lever or the button fully and slowly, wait ten seconds with the nib under; "
            "one with a breather tube needs four or five presses by design."
        ),
    ),
    (
        Check.SAC,
        (
            "A sac too long folds and blocks the bar, one too wide or too stiff is not flattened; "
            "remains of an older sac leave less room too."
        ),
    ),
    (Check.BAR, "A bar that is bent, rusted, too short or the wrong one does not flatten the sac."),
    (
        Check.VENT,
        "Where lever slot, button or barrel let no air in or out, the sac cannot move freely.",
    ),
    (
        Check.BREATHER_TUBE,
        "Where there is one: cracked, short or loose, it lets the air back in.",
    ),
    (
        Check.NIPPLE_JOINT,
        (
            "Compress, cover the feed, release: a sac that comes back draws air at the nipple or "
            "through a hole."
        ),
    ),
    (Check.FEED, "Dried ink in the feed or the section slows the ink: flush, wait, try again."),
)

_PISTON: Final = (
    (
        Check.TECHNIQUE,
        "Fill, turn a few drops out with the nib up, fill again: the first stroke leaves air.",
    ),
    (Check.TRAVEL, "The piston must reach both ends; a swollen seal or a worn spindle stops it."),
    (
        Check.PISTON_SEAL,
        (
            "Ink behind the piston, or a piston that lets a drop run back, is a seal too small, "
            "dry or split."
        ),
    ),
    (Check.THREADS, "Air drawn at the joint of section and barrel takes the place of ink."),
    (Check.FEED, "Dried ink in the feed slows the ink: flush, wait, try again."),
)

_PLUNGER: Final = (
    (
        Check.TECHNIQUE,
        (
            "One quick stroke to the very bottom, where the vacuum breaks, and ten seconds with "
            "the nib under."
        ),
    ),
    (
        Check.HEAD_WASHER,
        (
            "Pushed half-way with the front closed it should spring back, no ink needed. If it "
            "does not, the washer of the head is too small, torn, hard or the wrong way round."
        ),
    ),
    (
        Check.PACKING,
        (
            "If the washer is sound, the packing round the rod lets air into the vacuum: ink on "
            "the rod shows it."
        ),
    ),
    (Check.THREADS, "Air drawn at the section's joint or at a crack spoils the vacuum as well."),
    (Check.FEED, "Dried ink in the feed slows the ink: the vacuum needs longer. Flush, try again."),
)

_LOW: Final[Mapping[System, tuple[tuple[Check, str], ...]]] = {
    System.PNEUMATIC: _PNEUMATIC,
    System.SAC: _SAC,
    System.PISTON: _PISTON,
    System.PLUNGER: _PLUNGER,
}

_HIGH: Final = (
    (
        Check.WEIGHING,
        (
            "More than the filler can take was weighed: water outside the pen (a drop is 0.02 to "
            "0.04 g), in the cap or behind the filler, or a pen that was dry before. Weigh again."
        ),
    ),
    (Check.READINGS, "If it stays, measure the volumes again: one of them was read too small."),
)


def checks_of(system: System, weighed: WeighedFill | None) -> list[Mapping[str, object]]:
    """Return what to check, in order; nothing while the difference may be the weighing's own."""
    if weighed is None:
        return []
    listed: tuple[tuple[Check, str], ...] = ()
    if weighed.verdict is WeighingVerdict.LOW:
        listed = _LOW[system]
    elif weighed.verdict is WeighingVerdict.HIGH:
        listed = _HIGH
    return [
        {"order": order, "check": check.value, "why": why}
        for order, (check, why) in enumerate(listed, start=1)
    ]


def explanations_of(expected: ExpectedFill, weighed: WeighedFill | None) -> list[str]:
    """Return what a single cause would have to be to give so low a fill, in numbers."""
    if weighed is None or weighed.verdict is not WeighingVerdict.LOW:
        return []
    feed = weighed.low - expected.low
    drawn = max(weighed.millilitres - feed, Fraction(0))
    air = expected.air
    if air is not None and expected.stiffness is not None:
        said = []
        softest = expected.stiffness[0]
        stiffness = air.stiffness_that_gives(drawn)
        if stiffness is not None and stiffness > softest:
            said.append(
                f"By itself, a sac as stiff as {number_text(stiffness, 1)} kPa would give this "
                f"(reckoned with: {number_text(softest, 1)} to "
                f"{number_text(expected.stiffness[1], 1)} kPa)."
            )
        leak = air.leak_that_gives(drawn, softest)
        if leak is not None and 0 < leak <= 1:
            said.append(
                f"By itself, {number_text(leak * 100, 1)} % of the air leaking away in the stroke "
                "would give this: with a good sac, suspect the tail ring or the section's thread."
            )
        return said
    swept = expected.volumes.get("swept_volume_ml")
    if swept is None:
        share = drawn / expected.volumes["sac_volume_ml"]
        return [f"{number_text(share * 100, 1)} % of the sac was emptied."]
    return [f"{number_text((1 - drawn / swept) * 100, 1)} % of the sweep was lost."]
