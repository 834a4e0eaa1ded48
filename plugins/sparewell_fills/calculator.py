"""The calculator `fill`: what a filler should take, and what a weighed fill says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Final

from sparewell.plugin import Answer, Calculator, Inputs, number_text, rounded
from sparewell_fills.checks import checks_of, explanations_of
from sparewell_fills.filling import ExpectedFill, expected_of
from sparewell_fills.inputs import INPUTS, System, is_used
from sparewell_fills.outputs import OUTPUTS
from sparewell_fills.settings import SETTINGS
from sparewell_fills.weighing import WeighedFill, WeighingVerdict, weighed_of
from sparewell_fills.wording import millilitres_text

SOURCES: Final = (
    "Pneumatic fillers: Boyle's law, derived here; the whole sac collapses: a public patent.",
    "Volumes: plane geometry, derived here.",
    "Fill by weight and its error, what a feed holds: a public article on capacities.",
    "Shares, leaks, stiffness, the order of checks: common practice, no source.",
)

CAUTIONS: Final = (
    (
        "A fill test is water in the pen. Casein takes no water at all, and a pen of unknown "
        "material counts as casein: test it by air, never by filling."
    ),
    "Old ink may hold acid and unknown preservatives: gloves, and never suck by mouth.",
    (
        "A stuck plunger is not forced: rods snap and springs fly out. Eye protection; the safety "
        "sheets of whatever is put on it come first."
    ),
)


def compute(inputs: Inputs) -> Answer:
    """Answer what the filler takes; raise ImpossibleInput where the inputs contradict."""
    system = System(str(inputs.text("system")))
    expected = expected_of(inputs, system)
    weighed = weighed_of(inputs, expected)
    result = {
        "system": system.value,
        "fill_ml": _range(expected.low, expected.high),
        "limited_by": expected.limit.value,
        "why": expected.why,
        **_volumes(expected),
        **_weighed(weighed),
        "checks": checks_of(system, weighed),
        "explained_by": explanations_of(expected, weighed),
        "working": list(_working(inputs, system, expected, weighed)),
    }
    return Answer(result, warnings=tuple(_warnings(inputs, system, expected)), cautions=CAUTIONS)


def _range(low: Fraction, high: Fraction) -> Mapping[str, object]:
    """Return a range as the result carries it."""
    return {"low": rounded(low, 2), "high": rounded(high, 2)}


def _volumes(expected: ExpectedFill) -> Mapping[str, object]:
    """Return the volumes reckoned with; null where the system has none."""
    names = ("sac_volume_ml", "swept_volume_ml", "air_volume_ml", "collapse_ml")
    members: dict[str, object] = {
        name: rounded(expected.volumes[name], 2) if name in expected.volumes else None
        for name in names
    }
    stiffness = expected.stiffness
    members["stiffness_kpa"] = (
        None
        if stiffness is None
        else {"low": rounded(stiffness[0], 1), "high": rounded(stiffness[1], 1)}
    )
    return members


def _weighed(weighed: WeighedFill | None) -> Mapping[str, object]:
    """Return the weighed fill as the result carries it."""
    if weighed is None:
        names = ("weighed_ml", "weighing_error_ml", "compared_with_ml", "difference_ml", "verdict")
        return dict.fromkeys(names)
    return {
        "weighed_ml": rounded(weighed.millilitres, 3),
        "weighing_error_ml": rounded(weighed.error, 3),
        "compared_with_ml": _range(weighed.low, weighed.high),
        "difference_ml": rounded(weighed.difference, 3),
        "verdict": weighed.verdict.value,
    }


def _warnings(inputs: Inputs, system: System, expected: ExpectedFill) -> Iterator[str]:
    """Yield what was assumed, doubtful, or given and not used."""
    unused = [name for name in inputs if not is_used(name, system)]
    if unused:
        yield f"Given and not used for this system: {', '.join(sorted(unused))}."
    if expected.air is not None:
        if "air_volume_ml" not in inputs:
            yield (
                "The air was worked out from bore and depth: guard, tube and tenon take room of "
                "their own, so there is less. Give air_volume_ml where it is known."
            )
        if "sac_stiffness_kpa" not in inputs and inputs.text("sac_material") in {None, "unknown"}:
            yield "What the sac is made of is not known: the range spans soft latex to silicone."
        if inputs.text("sac_material") in {"silicone", "pvc"}:
            yield "A pneumatic filler needs a flimsy wall: thin latex collapses more easily."
        if expected.high == 0:
            yield "So stiff a sac does not collapse at all: the stroke only compresses the air."
    if "sac_outside_diameter" in inputs and not {"sac_inside_diameter", "sac_wall"} & inputs.keys():
        yield "The wall of the sac was assumed: measure it for a closer answer."
    if "weighing_error_ml" in inputs and not {"weighed_ml", "water_grams"} & inputs.keys():
        yield "An error of weighing was given, and no weighed fill."


def _working(
    inputs: Inputs, system: System, expected: ExpectedFill, weighed: WeighedFill | None
) -> Iterator[str]:
    """Yield every step with its numbers."""
    words = {
        "sac_volume_ml": "Sac",
        "air_volume_ml": "Air round the sac, V",
        "swept_volume_ml": "Sweep of the stroke, S",
    }
    for name, word in words.items():
        if name in expected.volumes:
            yield f"{word}: {millilitres_text(expected.volumes[name])}."
    low_leak, high_leak = (f"{number_text(leak * 100, 1)} %" for leak in expected.leak)
    if expected.air is not None and expected.stiffness is not None:
        soft, stiff = (number_text(one, 1) for one in expected.stiffness)
        yield (
            f"C = S - V (p + x P) / (P + p) with P = {number_text(expected.air.pressure, 3)} kPa, "
            f"p = {soft} to {stiff} kPa and a leak x of {low_leak} to {high_leak}: at best "
            f"{millilitres_text(expected.volumes['collapse_ml'])}, never more than the sac."
        )
    elif system is not System.SAC:
        yield f"Lost of the sweep: {low_leak} to {high_leak}."
    yield (
        f"Expected: {millilitres_text(expected.low)} to {millilitres_text(expected.high)}; "
        f"{expected.why}."
    )
    if weighed is None:
        return
    if "water_grams" in inputs:
        density = number_text(inputs.setting_number("fill.water_density"), 4)
        yield f"Grams / {density} g/ml = {number_text(weighed.millilitres, 3)} ml."
    if weighed.is_dry:
        yield "Weighed from dry, so what nib and feed hold is added to what is expected."
    meaning = {
        WeighingVerdict.EXPECTED: "as expected",
        WeighingVerdict.INSIDE_ERROR: (
            "outside by no more than the weighing may be off: nothing is told"
        ),
        WeighingVerdict.LOW: "too little by more than the weighing may be off",
        WeighingVerdict.HIGH: "too much by more than the weighing may be off",
    }
    yield (
        f"Weighed {number_text(weighed.millilitres, 3)} ml ± {number_text(weighed.error, 3)} ml: "
        f"{meaning[weighed.verdict]}."
    )


FILL_CALCULATOR: Final = Calculator(
    name="fill",
    title="Fill",
    help="What a filler takes and what limits it; what to check when a weighed fill is too low.",
    inputs=INPUTS,
    outputs=OUTPUTS,
    headline=("fill_ml.low", "fill_ml.high"),
    asks_first=("system", "sac_volume_ml", "weighed_ml"),
    compute=compute,
    sources=SOURCES,
    settings=SETTINGS,
)
