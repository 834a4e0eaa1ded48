"""The filling systems that hold their ink in a sac, under generic names.

What each one wears out, which readings size it, in which order it is opened, and what is put on
it on the way. Sources: patents and published repair guides; orders of work are common practice.
"""

from __future__ import annotations

from sparewell.plugin import FillingSystem, Step, TemplateNeed, hook

PUBLISHED_GUIDES = "published repair guides"
COMMON_PRACTICE = "common practice, no source"

SAC = TemplateNeed(kind="sac", seals_where="on the nipple of the section", calculator="sac")
BARREL_READINGS = ("barrel_bore", "bar_height", "nipple_diameter", "barrel_depth", "tenon_length")
GUARD_READINGS = ("guard_bore", "nipple_diameter", "barrel_depth", "tenon_length")
RESAC_CONSUMABLES = ("shellac", "talc", "section sealant")

_CLEAN = Step("clean", "water", "out of the barrel with every scrap of the old sac; then dry")
_DIG_OUT = Step("dig_out", None, "remove the old sac completely; what stays shrinks the bore")
_GLUE = Step("glue", "alcohol", "shellac on the nipple; let it dry before the sac is stressed")
_DUST = Step("assemble", "talc", "dust the outside of the sac")
_FIT = Step("fit", "latex", "slide the sac up to the shoulder of the nipple")
_TEST = Step("leak_test", "water", "fill, stand nib-down on tissue overnight, look in the barrel")


@hook
def filling_systems() -> list[FillingSystem]:
    """Return the sac-filled systems."""
    return [
        FillingSystem(
            name="lever",
            title="lever filler",
            needs=(SAC, TemplateNeed("pressure_bar", "none: mechanical", optional=True)),
            readings=BARREL_READINGS,
            consumables=RESAC_CONSUMABLES,
            steps=(
                Step("heat", None, "warm the section joint gently, turning the pen; wait; retry"),
                _DIG_OUT,
                _CLEAN,
                _FIT,
                _GLUE,
                _DUST,
                _TEST,
            ),
            sources=(PUBLISHED_GUIDES,),
            notes=(
                "Pulling a J-bar out by its long end breaks it.",
                (
                    "A sprung J-bar in place of a slide bar can overload the lever box; sources "
                    "disagree."
                ),
            ),
        ),
        FillingSystem(
            name="button",
            title="button filler",
            needs=(SAC, TemplateNeed("pressure_bar", "none: mechanical", optional=True)),
            readings=BARREL_READINGS,
            consumables=RESAC_CONSUMABLES,
            steps=(
                Step("release_spring", None, "button and bar out from the tail first"),
                Step("heat", None, "then warm the section joint gently, turning the pen"),
                _DIG_OUT,
                _CLEAN,
                _FIT,
                _GLUE,
                _DUST,
                _TEST,
            ),
            sources=(PUBLISHED_GUIDES,),
            notes=("Unscrewing the section with the bar in place winds the sac up on itself.",),
        ),
        FillingSystem(
            name="crescent",
            title="crescent (hump) filler",
            needs=(SAC, TemplateNeed("pressure_bar", "none: mechanical", optional=True)),
            readings=BARREL_READINGS,
            consumables=RESAC_CONSUMABLES,
            steps=(
                Step("heat", None, "warm the section joint gently, turning the pen"),
                _DIG_OUT,
                _CLEAN,
                _FIT,
                _GLUE,
                _DUST,
                _TEST,
            ),
            sources=(PUBLISHED_GUIDES,),
        ),
        FillingSystem(
            name="squeeze_bar",
            title="squeeze-bar filler with a cage",
            needs=(SAC,),
            readings=GUARD_READINGS,
            consumables=(*RESAC_CONSUMABLES, "connector thread sealant"),
            steps=(
                Step("heat", None, "warm the connector gently, turning the pen"),
                _DIG_OUT,
                _CLEAN,
                _FIT,
                _GLUE,
                _DUST,
                _TEST,
            ),
            sources=(PUBLISHED_GUIDES,),
            notes=("Because of its breather tube it needs four or five presses by design.",),
            given={"bar_rule": "none"},
        ),
        FillingSystem(
            name="pneumatic",
            title="pneumatic filler, press-down",
            needs=(SAC, TemplateNeed("o_ring", "moving tube through the barrel's tail")),
            readings=GUARD_READINGS,
            consumables=("silicone grease", "thread sealant", "shellac", "talc"),
            steps=(
                Step("heat", None, "warm the section joint gently, turning the pen"),
                _DIG_OUT,
                _CLEAN,
                _FIT,
                _GLUE,
                _DUST,
                _TEST,
            ),
            sources=(PUBLISHED_GUIDES,),
            notes=("The guard is a push fit though it looks crimped.",),
            given={"bar_rule": "none"},
        ),
        FillingSystem(
            name="pneumatic_extending_tube",
            title="pneumatic filler with extending fill tube",
            needs=(
                SAC,
                TemplateNeed("o_ring", "moving tube through the barrel's tail"),
                TemplateNeed("gasket", "point seal round the fill tube"),
            ),
            readings=GUARD_READINGS,
            consumables=("silicone grease", "thread sealant", "shellac", "talc"),
            steps=(
                Step("release_spring", None, "the fill-tube spring is under load"),
                Step("heat", None, "warm the nib unit gently, turning the pen"),
                _DIG_OUT,
                _CLEAN,
                _FIT,
                _GLUE,
                _DUST,
                _TEST,
            ),
            sources=(PUBLISHED_GUIDES,),
            given={"bar_rule": "none"},
        ),
    ]
