"""Templates of repairs that are refused when the service is put together, naming the plugin."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from importlib.metadata import EntryPoint
from typing import Any

import pytest

from sparewell.extend.host import PluginError, load_declarations
from sparewell.plugin import (
    Answer,
    Calculator,
    Envelope,
    Field,
    FieldType,
    FillingSystem,
    Judgement,
    Output,
    OutputType,
    Range,
    TemplateNeed,
    TemplateReading,
    TemplateTest,
    Verdict,
)
from support.declared import WASHER

MakePlugin = Callable[..., EntryPoint]

CLIP = replace(WASHER, name="clip")
FITTER = Calculator(
    name="fitter",
    title="Washer for a seat",
    help="A washer as wide as its seat.",
    inputs=(
        Field("seat", "Seat", required=True, measured=True, how="Inside jaws."),
        Field("duty", "Duty", FieldType.CHOICE, required=True, choices=("still", "moving")),
    ),
    outputs=(Output("width", OutputType.LENGTH),),
    compute=lambda inputs: Answer({"width": inputs.length("seat")}),
    sources=("common practice, no source",),
    kind="washer",
    envelope=lambda inputs: Envelope(
        "washer", inputs.length("seat") or 1, {"outside_diameter": Range(1, None)}
    ),
    judge=lambda _inputs, _piece: Judgement(Verdict.FITS, "it does"),
)
PLAIN = replace(FITTER, name="plain", kind=None, envelope=None, judge=None)
NEED = TemplateNeed("washer", "in its seat", calculator="fitter", given={"duty": "still"})
SEAT = TemplateReading("seat", instrument="caliper")
TAIL_SEAT = TemplateReading("tail_seat", "Seat at the tail", how="Inside jaws, at the tail.")
PUMP = FillingSystem("pump", "pump", (NEED,), (SEAT, TAIL_SEAT), (), (), ("my own",))
FILL = TemplateTest("fill", "Weigh it.", "Full.", at_least=Decimal("0.8"), unit="ml")


def systems(plugin: MakePlugin, system: FillingSystem) -> EntryPoint:
    """Return a plugin with the kinds and calculators above, and one system."""
    return plugin(
        "rings",
        part_kinds=[WASHER, CLIP],
        calculators=[FITTER, PLAIN],
        filling_systems=[system],
    )


def test_a_whole_template_is_loaded_as_it_is(plugin: MakePlugin) -> None:
    """Ranges, pairs, readings of its own, and tests with figures are accepted."""
    other = replace(NEED, reads={"seat": "tail_seat"}, together="both", decided_when_open=True)
    by_hand = TemplateNeed("clip", "none", reads={"outside_diameter": "tail_seat"}, at_most=3)
    needs = (replace(NEED, together="both"), other, by_hand)
    whole = replace(PUMP, needs=needs, tests=(FILL,))
    assert load_declarations([systems(plugin, whole)]).filling_systems["pump"] == whole


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"needs": ()}, "has no needs"),
        ({"needs": (replace(NEED, quantity=0),)}, "a quantity is at least 1"),
        ({"needs": (replace(NEED, quantity=2, at_most=2),)}, "is no range"),
        ({"needs": (replace(NEED, together="x"), NEED)}, "replaced together with nothing"),
        ({"needs": (replace(NEED, kind="gromet"),)}, "wants 'gromet', a kind no loaded plugin"),
        ({"needs": (replace(NEED, kind="clip"),)}, "chooses among washer, for 'clip'"),
        ({"needs": (replace(NEED, calculator="steam"),)}, "'steam', a calculator no loaded plugin"),
        ({"needs": (replace(NEED, calculator="plain"),)}, "chooses no pieces"),
        ({"needs": (replace(NEED, given={}),)}, "give it, one of still, moving"),
        ({"needs": (replace(NEED, given={"duty": "wild"}),)}, "not one of still, moving"),
        ({"needs": (replace(NEED, given={"duty": "still", "hue": 1}),)}, "no input of 'fitter'"),
        (
            {"needs": (replace(NEED, reads={"duty": "seat"}),)},
            "which is not a length that it reads",
        ),
        ({"needs": (replace(NEED, reads={"seat": "steam"}),)}, "no length among its readings"),
        ({"needs": (TemplateNeed("clip", "x", given={"duty": "still"}),)}, "no calculator takes"),
        ({"needs": (TemplateNeed("clip", "x", reads={"depth": "seat"}),)}, "not a dimension"),
        ({"given": {"hue": "red"}}, "gives 'hue', which is no input of the calculators"),
        ({"readings": (SEAT, SEAT)}, "the reading 'seat' stands twice"),
        ({"readings": (TemplateReading("saet"),)}, "no calculator takes"),
        ({"readings": (replace(SEAT, name="The seat"),)}, "small letters"),
        ({"readings": ("seat",)}, "declared as a TemplateReading"),
        ({"tests": (FILL, FILL)}, "the test 'fill' stands twice"),
        ({"tests": (replace(FILL, unit=""),)}, "a figure and its unit come together"),
        ({"tests": (replace(FILL, at_most=Decimal("0.5")),)}, "two figures are crossed"),
    ],
)
def test_a_template_that_could_not_work_is_refused_at_the_start(
    plugin: MakePlugin, changes: dict[str, Any], told: str
) -> None:
    """The start stops with the plugin, its distribution, the system and what is wrong with it."""
    with pytest.raises(PluginError) as refused:
        load_declarations([systems(plugin, replace(PUMP, **changes))])
    sentence = str(refused.value)
    assert "maker-of-rings" in sentence
    assert "'pump'" in sentence
    assert told in sentence


def test_what_a_skipped_plugin_would_declare_may_be_wanted(plugin: MakePlugin) -> None:
    """With the plugin of its kind skipped a template is loaded all the same."""
    points = [
        plugin("pumps", filling_systems=[PUMP]),
        plugin("washers", part_kinds=[WASHER], calculators=[FITTER]),
    ]
    declared = load_declarations(points, skip=frozenset({"washers"}))
    assert (list(declared.filling_systems), declared.kinds) == (["pump"], {})
