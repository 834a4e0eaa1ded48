"""Systems that pump: the plunger vacuum filler and the diaphragm pump."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import FillingSystem, Step, TemplateNeed, TemplateReading, TemplateTest
from sparewell_filling_systems.common import (
    BREATHER_TUBE,
    FINAL_TESTS,
    FIND_THE_HAND,
    GREASE,
    MOST_PACKINGS,
    ROD_OF_METAL,
    SOURCES,
    SPRING_UNDER_LOAD,
    TALC,
    TESTS,
    WARM_SECTION,
    WASH,
    coil_spring,
)
from sparewell_filling_systems.readings import (
    BARREL_BORE,
    BREATHER_LENGTH,
    CAVITY,
    CAVITY_DEPTH,
    FEED_HOLE,
    ROD,
    SPRING_READINGS,
)

PLUNGER_VACUUM: Final = FillingSystem(
    name="plunger_vacuum",
    title="plunger vacuum filler",
    needs=(
        TemplateNeed(
            kind="gasket",
            seals_where="plunger head against the barrel, on the down-stroke",
            calculator="head_washer",
            note="A hair larger than its backing washer: too small leaks, too large snags.",
        ),
        TemplateNeed(
            kind="gasket",
            seals_where="packing unit, round the rod at the tail",
            calculator="packing",
            quantity=2,
            at_most=MOST_PACKINGS,
            decided_when_open=True,
            note="Felt, rubber or cork, as many as fill the cavity; or a stack of O-rings.",
        ),
        ROD_OF_METAL,
    ),
    readings=(
        TemplateReading(
            "backing_washer",
            instrument="outside jaws of a caliper, two directions",
            traps=("a slip of ten between inch fractions and millimetres",),
        ),
        TemplateReading("head_stem", instrument="outside jaws of a caliper"),
        BARREL_BORE,
        ROD,
        CAVITY,
        CAVITY_DEPTH,
        TemplateReading(
            "rod_length",
            title="Length of the rod",
            instrument="steel rule or depth rod",
            how="From the thread of the knob to the head, with the rod drawn out.",
        ),
    ),
    consumables=("sealant", "silicone grease"),
    steps=(
        WARM_SECTION,
        FIND_THE_HAND,
        Step("unscrew", None, "the packing unit, with the prong or scraper tool that fits it"),
        Step("dig_out", None, "pick the old packing out of its cavity completely"),
        WASH,
        Step("fit", None, "head washer on its stem; packing over the rod, not folded"),
        Step("seal", "sealant", "the packing unit and the section's thread, nothing on the rod"),
        Step("set", None, "let the sealant set before any grease comes near it"),
        GREASE,
        *FINAL_TESTS,
    ),
    tests=(
        TemplateTest(
            name="vacuum",
            how="Draw the plunger out, close the nib's end, push it half-way down and let go.",
            passes="It springs back.",
        ),
        *TESTS,
    ),
    sources=("published head washer sizes", *SOURCES),
    notes=(
        "The housing of the packing is often glued in; spare units no longer exist.",
        "A packing may be slit and wrapped round a rod that cannot be removed, slits staggered.",
    ),
)

DIAPHRAGM_PUMP: Final = FillingSystem(
    name="diaphragm_pump",
    title="diaphragm pump filler",
    needs=(
        TemplateNeed(
            kind="diaphragm",
            seals_where="folded back on the collar, trapped against the barrel",
            reads={"inside_diameter": "filler_collar", "tip_diameter": "pellet_hole"},
            together="diaphragm and pellet",
            note="Slender, standard or oversize: by the collar and the plunger's hole, never by "
            "the look of the pen. The open end is turned back over the collar, without glue.",
        ),
        TemplateNeed(
            kind="pellet",
            seals_where="in the diaphragm's pocket, behind the plunger's hole",
            reads={"outside_diameter": "pellet_hole"},
            together="diaphragm and pellet",
            note="A spare: the pellet falls out and rolls away.",
        ),
        BREATHER_TUBE,
        coil_spring("it drives the plunger back"),
    ),
    readings=(
        TemplateReading(
            "filler_collar",
            title="Collar of the filler",
            instrument="outside jaws of a caliper, two directions",
            how="Over the cone that the diaphragm is turned back on, at its widest.",
            traps=("measure it: which size is commonest, sources disagree",),
        ),
        TemplateReading(
            "pellet_hole",
            title="Hole in the plunger for the pellet",
            instrument="drill shanks as go and no-go",
            how="The largest shank that slips into the hole of the plunger.",
            traps=("the pocket with its pellet goes through a slightly smaller hole",),
        ),
        FEED_HOLE,
        BREATHER_LENGTH,
        *SPRING_READINGS,
    ),
    consumables=("talc", "section sealant"),
    steps=(
        WARM_SECTION,
        FIND_THE_HAND,
        SPRING_UNDER_LOAD,
        Step("dig_out", None, "scrape the barrel clean: remains make the new one bind or twist"),
        WASH,
        Step("fit", "latex", "pocket through the plunger's hole, open end back over the collar"),
        TALC,
        *FINAL_TESTS,
    ),
    tests=(
        TemplateTest(
            name="pump",
            how="Close the end of the feed, press the plunger down and let go.",
            passes="It is felt to hold and comes back by itself; the diaphragm does not twist.",
        ),
        *TESTS,
    ),
    sources=SOURCES,
)

PLUNGERS: Final = (PLUNGER_VACUUM, DIAPHRAGM_PUMP)
