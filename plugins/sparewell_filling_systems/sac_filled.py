"""Systems that press a sac against the barrel's wall: lever, button, hump, squeeze-bar."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Final

from sparewell.plugin import FillingSystem, Step, TemplateNeed, TemplateReading, TemplateTest
from sparewell_filling_systems.common import (
    BREATHER_TUBE,
    CLOSE,
    CLOSE_AND_TEST,
    DIG_OUT_SAC,
    NO_BAR,
    RESAC_CONSUMABLES,
    RESAC_STEPS,
    SAC,
    SAC_ON,
    SAC_TESTS,
    SOURCES,
    WARM_SECTION,
    WASH,
    coil_spring,
)
from sparewell_filling_systems.readings import (
    BAR_WIDTH,
    BARREL_READINGS,
    BREATHER_LENGTH,
    FEED_HOLE,
    GUARD_READINGS,
    SLOT_WIDTH,
    SPRING_READINGS,
)


def _bar(kind: str) -> TemplateNeed:
    """Return the pressure bar, which is replaced where it has corroded."""
    return TemplateNeed(
        kind="pressure_bar",
        seals_where="none: mechanical",
        calculator="pressure_bar",
        optional=True,
        given={"bar_kind": kind},
    )


LEVER: Final = FillingSystem(
    name="lever",
    title="lever filler",
    needs=(SAC, _bar("j_bar")),
    readings=(*BARREL_READINGS, BAR_WIDTH, SLOT_WIDTH),
    consumables=RESAC_CONSUMABLES,
    steps=(
        WARM_SECTION,
        DIG_OUT_SAC,
        Step("remove_bar", None, "by the end that is wedged, never by the long one"),
        WASH,
        Step("replace_bar", None, "the bar back, and its height measured where it stands"),
        *SAC_ON,
        *CLOSE_AND_TEST,
    ),
    tests=SAC_TESTS,
    sources=SOURCES,
    notes=(
        "Pulling a J-bar out by its long end breaks it.",
        "A sprung J-bar in place of a slide bar can overload the lever box: sources disagree.",
        "A broken lever box, ring or pin comes from a donor: add a need of the kind lever_box.",
    ),
)

BUTTON: Final = FillingSystem(
    name="button",
    title="button filler",
    needs=(
        SAC,
        _bar("button_bar"),
        TemplateNeed(
            kind="button",
            seals_where="none: in the hole of the tail",
            optional=True,
            decided_when_open=True,
            reads={"outside_diameter": "button_hole"},
        ),
        coil_spring("under the button of some tails"),
    ),
    readings=(
        *BARREL_READINGS,
        BAR_WIDTH,
        TemplateReading(
            "button_hole",
            title="Hole of the button",
            instrument="drill shanks as go and no-go",
            how="The largest shank that slips through the hole in the tail.",
            traps=("the button's flange is wider than its hole: look at both",),
        ),
        *SPRING_READINGS,
    ),
    consumables=RESAC_CONSUMABLES,
    steps=(
        Step("release_spring", None, "button and bar out from the tail first, before the section"),
        WARM_SECTION,
        DIG_OUT_SAC,
        WASH,
        *SAC_ON,
        CLOSE,
        Step("replace_bar", None, "the bar in from the tail, now that the section is home"),
        *CLOSE_AND_TEST[1:],
    ),
    tests=SAC_TESTS,
    sources=SOURCES,
    notes=(
        "Unscrewing the section with the bar in place winds the sac up on itself.",
        "A bar that is too long holds the sac squeezed; one that is too short does not bow.",
    ),
)

CRESCENT: Final = FillingSystem(
    name="crescent",
    title="crescent (hump) filler",
    needs=(
        SAC,
        TemplateNeed(
            kind="pressure_bar",
            seals_where="none: under the hump",
            optional=True,
            reads={"width": "bar_width"},
        ),
        TemplateNeed(
            kind="locking_ring",
            seals_where="none: round the barrel under the hump",
            optional=True,
            reads={"inside_diameter": "ring_seat", "width": "hump_gap"},
        ),
    ),
    readings=(
        *BARREL_READINGS,
        BAR_WIDTH,
        TemplateReading(
            "ring_seat",
            title="Barrel where the locking ring turns",
            instrument="outside jaws of a caliper, two directions",
            how="Over the barrel beside the hump, where the ring sat.",
        ),
        TemplateReading(
            "hump_gap",
            title="Room for the locking ring under the hump",
            instrument="inside jaws of a caliper",
            how="Along the slot, from one end of the hump's base to the other.",
        ),
    ),
    consumables=RESAC_CONSUMABLES,
    steps=(
        WARM_SECTION,
        DIG_OUT_SAC,
        WASH,
        Step("replace_bar", None, "the bar back under the hump, the locking ring round it"),
        *SAC_ON,
        *CLOSE_AND_TEST,
    ),
    tests=SAC_TESTS,
    sources=SOURCES,
    notes=("The hump's base takes room from the bore as a bar does: measure it as the bar.",),
)

SQUEEZE_BAR: Final = FillingSystem(
    name="squeeze_bar",
    title="squeeze-bar filler with a cage",
    needs=(
        replace(
            SAC,
            seals_where="on the nipple of the connector",
            given=NO_BAR,
            materials=("pvc", "latex"),
            note="Vinyl from new; latex is chosen by nipple and cage, and tried in.",
        ),
        BREATHER_TUBE,
    ),
    readings=(*GUARD_READINGS, FEED_HOLE, BREATHER_LENGTH),
    consumables=(*RESAC_CONSUMABLES, "connector thread sealant"),
    steps=(Step("heat", None, "warm the connector gently, turning the pen"), *RESAC_STEPS),
    tests=(
        TemplateTest(
            name="presses",
            how="Press the bar fully, wait with the nib in the ink, and count until no more "
            "bubbles come.",
            passes="Full after this many presses: its breather tube makes it so by design.",
            at_least=Decimal(4),
            at_most=Decimal(5),
            unit="presses",
        ),
        *SAC_TESTS,
    ),
    sources=SOURCES,
    notes=("The breather tube inside must not foul the sac or the cage.",),
)

SAC_FILLED: Final = (LEVER, BUTTON, CRESCENT, SQUEEZE_BAR)
