"""Converter and cartridge pens, and the cap of any pen that comes to the bench for itself."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import FillingSystem, Step, TemplateNeed, TemplateReading, TemplateTest
from sparewell_filling_systems.common import GREASE, SOURCES, TESTS, WASH

CONVERTER: Final = FillingSystem(
    name="converter",
    title="converter or cartridge",
    needs=(
        TemplateNeed(
            kind="converter_seal",
            seals_where="round the nozzle of the section",
            reads={"inside_diameter": "nozzle"},
        ),
    ),
    readings=(
        TemplateReading(
            "nozzle",
            title="Nozzle of the section",
            instrument="micrometer",
            how="Outside diameter where the cartridge or converter grips it.",
            traps=("it tapers: at the end, and where the seal comes to rest",),
        ),
    ),
    consumables=("silicone grease",),
    steps=(
        Step("flush", "water", "until it runs clear, with the converter off"),
        Step("fit", None, "the seal, square to the nozzle"),
        GREASE,
    ),
    tests=TESTS,
    sources=SOURCES,
)

CAP: Final = FillingSystem(
    name="cap",
    title="cap of any pen (inner cap)",
    needs=(
        TemplateNeed(
            kind="inner_cap",
            seals_where="on the front face of the section",
            reads={"inside_diameter": "inner_cap_bore", "depth": "inner_cap_depth"},
            note="Its mouth must be square, or the nib dries out.",
        ),
        TemplateNeed(
            kind="gasket",
            seals_where="rubber disc above the inner cap",
            optional=True,
            reads={"outside_diameter": "inner_cap_disc"},
            decided_when_open=True,
            note="Old rubber here gives off sulphur once it is wet.",
        ),
    ),
    readings=(
        TemplateReading(
            "inner_cap_bore",
            title="Bore of the inner cap",
            instrument="plug gauges or inside jaws",
            how="At its mouth, two directions: the section's face must cover it.",
            traps=("a mouth worn out of square seals on one side only",),
        ),
        TemplateReading(
            "inner_cap_depth",
            title="Depth of the inner cap",
            instrument="depth rod of a caliper",
            how="From its mouth to its floor; the nib must not touch.",
        ),
        TemplateReading(
            "inner_cap_disc",
            title="Disc above the inner cap",
            instrument="inside jaws of a caliper",
            how="Inside diameter of the cap's top, where the disc lies.",
        ),
    ),
    consumables=("shellac",),
    steps=(
        Step("heat", None, "warm the cap gently; pull the inner cap straight"),
        Step("clean_cap", None, "every scrap of the rubber disc out"),
        WASH,
        Step("glue", "alcohol", "a film of shellac where the inner cap was held by it"),
    ),
    tests=(
        TemplateTest(
            name="seal",
            how="Wet the lip of the inner cap, close the cap on the section, look at the ring "
            "that it leaves; blow gently into a cap without a vent.",
            passes="The ring is whole all round; a filled pen writes at once after a night capped.",
        ),
    ),
    sources=SOURCES,
    notes=("Ink in the cap beside a dry barrel points here, not to the sac.",),
)

OTHERS: Final = (CONVERTER, CAP)
