"""What each system wears out, which readings size it, how it is opened, what is put on it.

Sources: patents and published repair guides; orders of work are common practice, no source.
"""

from __future__ import annotations

from sparewell.plugin import FillingSystem, Step, TemplateNeed

SOURCES = ("published repair guides", "order of work: common practice, no source")

SAC = TemplateNeed(kind="sac", seals_where="on the nipple of the section", calculator="sac")
BAR = TemplateNeed(
    kind="pressure_bar", seals_where="none: mechanical", calculator="pressure_bar", optional=True
)
HUMP_BAR = TemplateNeed(kind="pressure_bar", seals_where="none: under the hump", optional=True)
TAIL_RING = TemplateNeed(
    kind="o_ring", seals_where="moving tube through the barrel's tail", calculator="o_ring"
)
POINT_SEAL = TemplateNeed(kind="gasket", seals_where="point seal round the fill tube")

BARREL_READINGS = ("barrel_bore", "bar_height", "nipple_diameter", "barrel_depth", "tenon_length")
GUARD_READINGS = ("guard_bore", "nipple_diameter", "barrel_depth", "tenon_length")
PNEUMATIC_READINGS = (*GUARD_READINGS, "rod", "bore")
RESAC_CONSUMABLES = ("shellac", "talc", "section sealant")
PNEUMATIC_CONSUMABLES = ("silicone grease", "thread sealant", "shellac", "talc")
NO_BAR = {"bar_rule": "none"}
# The tail ring packs the tube where it passes through the barrel's end.
PNEUMATIC_GIVEN = {**NO_BAR, "gland": "rod", "duty": "moving", "grease": "silicone"}

WARM_SECTION = Step("heat", None, "warm the section joint gently, turning the pen; wait; retry")
RESAC_STEPS = (
    Step("dig_out", None, "remove the old sac completely; what stays shrinks the bore"),
    Step("clean", "water", "out of the barrel with every scrap of the old sac; then dry"),
    Step("fit", "latex", "slide the sac up to the shoulder of the nipple"),
    Step("glue", "alcohol", "shellac on the nipple; let it dry before the sac is stressed"),
    Step("assemble", "talc", "dust the outside of the sac"),
    Step("leak_test", "water", "fill, stand nib-down on tissue overnight, look in the barrel"),
)

SAC_FILLED = (
    FillingSystem(
        name="lever",
        title="lever filler",
        needs=(SAC, BAR),
        readings=BARREL_READINGS,
        consumables=RESAC_CONSUMABLES,
        steps=(WARM_SECTION, *RESAC_STEPS),
        given={"bar_kind": "j_bar"},
        sources=SOURCES,
        notes=(
            "Pulling a J-bar out by its long end breaks it.",
            "A sprung J-bar in place of a slide bar can overload the lever box: sources disagree.",
        ),
    ),
    FillingSystem(
        name="button",
        title="button filler",
        needs=(SAC, BAR),
        readings=BARREL_READINGS,
        consumables=RESAC_CONSUMABLES,
        steps=(
            Step("release_spring", None, "button and bar out from the tail first"),
            WARM_SECTION,
            *RESAC_STEPS,
        ),
        given={"bar_kind": "button_bar"},
        sources=SOURCES,
        notes=("Unscrewing the section with the bar in place winds the sac up on itself.",),
    ),
    FillingSystem(
        name="crescent",
        title="crescent (hump) filler",
        needs=(SAC, HUMP_BAR),
        readings=BARREL_READINGS,
        consumables=RESAC_CONSUMABLES,
        steps=(WARM_SECTION, *RESAC_STEPS),
        sources=SOURCES,
    ),
    FillingSystem(
        name="squeeze_bar",
        title="squeeze-bar filler with a cage",
        needs=(SAC,),
        readings=GUARD_READINGS,
        consumables=(*RESAC_CONSUMABLES, "connector thread sealant"),
        steps=(Step("heat", None, "warm the connector gently, turning the pen"), *RESAC_STEPS),
        sources=SOURCES,
        notes=("Because of its breather tube it needs four or five presses by design.",),
        given=NO_BAR,
    ),
    FillingSystem(
        name="pneumatic",
        title="pneumatic filler, press-down",
        needs=(SAC, TAIL_RING),
        readings=PNEUMATIC_READINGS,
        consumables=PNEUMATIC_CONSUMABLES,
        steps=(WARM_SECTION, *RESAC_STEPS),
        sources=SOURCES,
        notes=("The guard is a push fit though it looks crimped.",),
        given=PNEUMATIC_GIVEN,
    ),
    FillingSystem(
        name="pneumatic_extending_tube",
        title="pneumatic filler with extending fill tube",
        needs=(SAC, TAIL_RING, POINT_SEAL),
        readings=PNEUMATIC_READINGS,
        consumables=PNEUMATIC_CONSUMABLES,
        steps=(
            Step("release_spring", None, "the fill-tube spring is under load"),
            Step("heat", None, "warm the nib unit gently, turning the pen"),
            *RESAC_STEPS,
        ),
        sources=SOURCES,
        given=PNEUMATIC_GIVEN,
    ),
)
