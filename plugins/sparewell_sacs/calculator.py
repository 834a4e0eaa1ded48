"""The calculator `sac`: which size a measured pen takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sparewell.plugin import Answer, Calculator, Inputs, rounded
from sparewell_sacs.advice import also_possible_of, alternatives_of, substitutes_of
from sparewell_sacs.drawing import drawing
from sparewell_sacs.fit import advise, envelope, judge, price
from sparewell_sacs.inputs import INPUTS
from sparewell_sacs.kind import KIND
from sparewell_sacs.lengths import lengths_of
from sparewell_sacs.notices import cautions_of, warnings_of
from sparewell_sacs.others import other_bar_rule, with_other_bar_rule, with_other_clearance
from sparewell_sacs.outputs import OUTPUTS
from sparewell_sacs.sensitivity import sensitivity_of
from sparewell_sacs.settings import SCALES, SETTINGS
from sparewell_sacs.sizing import Sizing, sizing_of
from sparewell_sacs.stretch import Stretch, grip_of, stretch_of_size
from sparewell_sacs.volume import Capacity, capacity_of
from sparewell_sacs.wording import size_number
from sparewell_sacs.working import working_of

SOURCES: Final = (
    (
        "Number of a sac, and its limit by the nipple: general description of public restorers' "
        "notes (outside diameter in 64ths of an inch; that number or lower)."
    ),
    (
        "Bar taken off the bore, once or twice, and the try-in: general description of a public "
        "reference article on rubber sacs."
    ),
    "Clearance, walls, bands of stretch, end gaps, share that fills: common practice, no source.",
    (
        "Stretch, height of a bar lying as a chord, cut length, volume: derived here: plane "
        "geometry from the readings."
    ),
)


def compute(inputs: Inputs) -> Answer:
    """Answer which sac the pen takes; raise ImpossibleInput where readings contradict."""
    sizing = sizing_of(inputs)
    lengths = lengths_of(inputs)
    capacity = capacity_of(
        inputs,
        sizing.size,
        wall_nanometres=sizing.walls.nominal_nanometres,
        length_nanometres=lengths.for_volume_nanometres,
    )
    half_stretch = stretch_of_size(
        sizing.readings.nipple_nanometres, sizing.half_size, sizing.walls
    )
    result = {
        "barrel_limit": rounded(sizing.barrel_limit, 2),
        "nipple_limit": rounded(sizing.nipple_limit, 2),
        "size": sizing.size,
        "half_size": size_number(sizing.half_size),
        "recommended": size_number(sizing.recommended),
        "limited_by": sizing.limited_by.value,
        "outcome": sizing.outcome.value,
        "stretch_percent": _stretch_members(sizing.stretch),
        "half_size_stretch_percent": _stretch_members(half_stretch),
        "grip": grip_of(inputs, sizing.stretch.nominal, sizing.material).value,
        "over_nipple_diameter": sizing.over_nipple_nanometres,
        **_used_members(sizing),
        "cut_length": lengths.cut_nanometres,
        **_capacity_members(capacity),
        "substitutes": substitutes_of(inputs, sizing),
        "also_possible": also_possible_of(inputs, sizing),
        "alternatives": alternatives_of(inputs, sizing),
        "sensitivity": sensitivity_of(inputs, sizing),
        "working": working_of(inputs, sizing, lengths, capacity),
    }
    return Answer(
        result=result,
        warnings=warnings_of(inputs, sizing),
        cautions=cautions_of(sizing),
    )


def _stretch_members(stretch: Stretch) -> Mapping[str, object]:
    """Return a stretch as the result carries it."""
    by_name = {"min": stretch.least, "nominal": stretch.nominal, "max": stretch.most}
    return {
        name: None if percent is None else rounded(percent, 1) for name, percent in by_name.items()
    }


def _used_members(sizing: Sizing) -> Mapping[str, object]:
    """Return what was reckoned with, and what the choices not taken would give."""
    bar, clearance = sizing.readings.bar, sizing.readings.clearance
    other_rule = with_other_bar_rule(sizing)
    return {
        "material": sizing.material,
        "bar_rule_used": bar.rule,
        "bar_height_used": bar.height_nanometres if bar.times else None,
        "clearance_used": clearance.nanometres,
        "other_clearance": {
            "clearance": clearance.other_nanometres,
            **with_other_clearance(sizing).as_members(),
        },
        "other_bar_rule": None
        if other_rule is None
        else {"bar_rule": other_bar_rule(sizing), **other_rule.as_members()},
    }


def _capacity_members(capacity: Capacity | None) -> Mapping[str, object]:
    """Return the volume as the result carries it."""
    if capacity is None:
        return {"capacity_ml": None, "expected_fill_ml": None}
    return {
        "capacity_ml": rounded(capacity.millilitres, 2),
        "expected_fill_ml": {
            "low": rounded(capacity.low_millilitres, 2),
            "high": rounded(capacity.high_millilitres, 2),
        },
    }


SAC_CALCULATOR: Final = Calculator(
    name=KIND,
    title="Sac size",
    help="Which sac a measured pen takes: beside the bar, over the nipple, and into the bore.",
    inputs=INPUTS,
    outputs=OUTPUTS,
    headline=("recommended", "size", "cut_length"),
    asks_first=("nipple_diameter", "barrel_bore", "bar_height", "barrel_depth", "tenon_length"),
    compute=compute,
    sources=SOURCES,
    settings=SETTINGS,
    kind=KIND,
    envelope=envelope,
    judge=judge,
    drawing=drawing,
    advise=advise,
    price=price,
    scales=SCALES,
)
