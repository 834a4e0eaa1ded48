"""What several systems share: perishables, steps in their order, consumables, tests.

The names and the substances of the steps are those that cautions speak of. Sources: patents and
published repair guides; orders of work are common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import Step, TemplateNeed, TemplateTest

SOURCES: Final = ("published repair guides", "order of work: common practice, no source")

# More than a cavity of 12 mm, the deepest that is likely, takes of 1/32 in: a plan counts them.
MOST_PACKINGS: Final = 16
ON_THE_NIPPLE: Final = "on the nipple of the section"
NO_BAR: Final = {"bar_rule": "none"}
SAC: Final = TemplateNeed(
    kind="sac", seals_where=ON_THE_NIPPLE, calculator="sac", materials=("latex",)
)
BREATHER_TUBE: Final = TemplateNeed(
    kind="breather_tube",
    seals_where="in the hole of the feed",
    optional=True,
    reads={"outside_diameter": "feed_hole", "length": "breather_length"},
)
ROD_OF_METAL: Final = TemplateNeed(
    kind="rod",
    seals_where="none: it runs in the packing",
    optional=True,
    reads={"outside_diameter": "rod", "length": "rod_length"},
    note="Where steel has corroded or a coating has swollen.",
)


def coil_spring(where: str) -> TemplateNeed:
    """Return a coil spring that is looked at, and replaced only where it must be."""
    return TemplateNeed(
        kind="spring",
        seals_where=f"none: {where}",
        calculator="spring",
        optional=True,
        decided_when_open=True,
        note="Steel springs rust from ink leaks: look at it every time.",
    )


RESAC_CONSUMABLES: Final = ("shellac", "talc", "section sealant")

WARM_SECTION: Final = Step(
    "heat", None, "warm the section joint gently, turning the pen; wait; retry"
)
FIND_THE_HAND: Final = Step(
    "unscrew", None, "find the hand of the thread before any force: tails can be left-hand"
)
SPRING_UNDER_LOAD: Final = Step(
    "release_spring", None, "the spring is under load: inside a bag, eyes protected"
)
DIG_OUT_SAC: Final = Step(
    "dig_out", None, "remove the old sac completely; what stays shrinks the bore"
)
WASH: Final = Step("clean", "water", "out of the barrel with every scrap; then dry")
SHELLAC: Final = Step("glue", "alcohol", "shellac on the nipple, and the sac on while it is wet")
DRY_FIT: Final = Step(
    "fit", "latex", "cut the sac, dry-fit it, and work the filler twice: it must not pinch"
)
FIT_SAC: Final = Step(
    "fit", "latex", "while the shellac is wet, the sac up to the shoulder of the nipple; let it set"
)
CLOSE: Final = Step("close", None, "push the section home, dry, to be sealed last")
SEAL_SECTION: Final = Step(
    "seal", "section sealant", "the section, once the pen has stood and has written"
)
AIR_TEST_IN_HAND: Final = Step(
    "air_test", None, "in the hand: press the sac, cover the feed, let go: it stays pressed"
)
BEFORE_RETURN: Final = Step(
    "before_return",
    None,
    "a night capped, writes at once; cap home, nib clear; ten lines unbroken; nearly empty and "
    "hand-warm ten minutes, no blob",
)
TALC: Final = Step("assemble", "talc", "dust the outside of the sac")
STAND_NIB_DOWN: Final = Step(
    "leak_test", "water", "fill, stand nib-down on tissue overnight, look in the barrel"
)
WEIGH_THE_FILL: Final = Step("fill_test", "water", "weigh, fill with tap water, weigh again")
SAC_ON: Final = (DRY_FIT, SHELLAC, FIT_SAC, AIR_TEST_IN_HAND, TALC)
CLOSE_AND_TEST: Final = (CLOSE, WEIGH_THE_FILL, STAND_NIB_DOWN, SEAL_SECTION, BEFORE_RETURN)
RESAC_STEPS: Final = (DIG_OUT_SAC, WASH, *SAC_ON, *CLOSE_AND_TEST)
GREASE: Final = Step("lubricate", "silicone grease", "sparingly, on what moves")
FINAL_TESTS: Final = (WEIGH_THE_FILL, STAND_NIB_DOWN, BEFORE_RETURN)

AIR_TEST: Final = TemplateTest(
    name="air",
    how="Compress the filler, cover the feed with a finger, release; or sink section and sac in a "
    "cup of water, not with casein.",
    passes="It stays compressed while the feed is covered; no bubbles.",
)
FILL_TEST: Final = TemplateTest(
    name="fill_by_weight",
    how="Weigh emptied, fill with tap water, weigh; millilitres are grams / 0.997; the mean of "
    "several fills. Not with casein.",
    passes="A significant fill.",
    at_least=Decimal("0.8"),
    unit="ml",
    expected="expected_fill_ml",
)
LEAK_TEST: Final = TemplateTest(
    name="leak",
    how="Fill it, stand it nib-down on tissue overnight, look into barrel and cap. Not with "
    "casein.",
    passes="Tissue and barrel dry. Ink in the cap beside a dry barrel points to the inner cap.",
)
TESTS: Final = (FILL_TEST, LEAK_TEST)
SAC_TESTS: Final = (AIR_TEST, *TESTS)
