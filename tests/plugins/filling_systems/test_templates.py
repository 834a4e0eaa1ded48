"""The shipped templates as data: what each wears out, how much of it, how it is opened."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.extend.host import Declarations
from sparewell.plugin import FillingSystem
from sparewell_filling_systems.plugin import filling_systems

SYSTEMS = {system.name: system for system in filling_systems()}

# What wears out by system: kind, calculator, how many, at most, whether it may be left out, whether
# it is decided only when the pen is open. After the trade's own table of perishables.
PERISHABLES = {
    "lever": [
        ("sac", "sac", 1, None, False, False),
        ("pressure_bar", "pressure_bar", 1, None, True, False),
    ],
    "button": [
        ("sac", "sac", 1, None, False, False),
        ("pressure_bar", "pressure_bar", 1, None, True, False),
        ("button", None, 1, None, True, True),
        ("spring", "spring", 1, None, True, True),
    ],
    "crescent": [
        ("sac", "sac", 1, None, False, False),
        ("pressure_bar", None, 1, None, True, False),
        ("locking_ring", None, 1, None, True, False),
    ],
    "squeeze_bar": [
        ("sac", "sac", 1, None, False, False),
        ("breather_tube", None, 1, None, True, False),
    ],
    "pneumatic": [
        ("sac", "sac", 1, None, False, False),
        ("o_ring", "o_ring", 1, None, False, False),
    ],
    "pneumatic_extending_tube": [
        ("sac", "sac", 1, None, False, False),
        ("o_ring", "o_ring", 1, None, False, False),
        ("gasket", "packing", 1, None, False, False),
        ("spring", "spring", 1, None, True, True),
    ],
    "plunger_vacuum": [
        ("gasket", "head_washer", 1, None, False, False),
        ("gasket", "packing", 2, 16, False, True),
        ("rod", None, 1, None, True, False),
    ],
    "diaphragm_pump": [
        ("diaphragm", None, 1, None, False, False),
        ("pellet", None, 1, None, False, False),
        ("breather_tube", None, 1, None, True, False),
        ("spring", "spring", 1, None, True, True),
    ],
    "piston": [
        ("o_ring", "o_ring", 1, 2, False, True),
        ("gasket", "packing", 1, None, True, True),
        ("o_ring", "o_ring", 1, None, True, True),
    ],
    "eyedropper": [("o_ring", "o_ring", 1, None, True, True)],
    "eyedropper_shut_off": [
        ("gasket", "packing", 1, 16, False, True),
        ("gasket", "gasket", 1, None, True, True),
        ("o_ring", "o_ring", 1, None, True, True),
        ("rod", None, 1, None, True, False),
    ],
    "retracting_nib_safety": [
        ("gasket", "packing", 1, 16, False, True),
        ("gasket", "gasket", 1, None, True, True),
        ("spiral", None, 1, None, True, True),
    ],
    "converter": [("converter_seal", None, 1, None, False, False)],
    "cap": [
        ("inner_cap", None, 1, None, False, False),
        ("gasket", None, 1, None, True, True),
    ],
}


def test_each_system_wears_out_what_the_trade_says() -> None:
    """Kinds, calculators, quantities, ranges and what may be left out are those of the trade."""
    found = {
        name: [
            (
                need.kind,
                need.calculator,
                need.quantity,
                need.at_most,
                need.optional,
                need.decided_when_open,
            )
            for need in system.needs
        ]
        for name, system in SYSTEMS.items()
    }
    assert found == PERISHABLES


@pytest.mark.parametrize("system", SYSTEMS.values(), ids=SYSTEMS)
def test_each_system_is_whole(system: FillingSystem, declared: Declarations) -> None:
    """It has readings, steps, consumables, a test and sources; where each part seals is said."""
    assert system.readings
    assert system.steps
    assert system.consumables
    assert system.tests
    assert system.sources
    assert all(need.seals_where for need in system.needs)
    measured = {reading.name for reading in system.readings}
    for need in system.needs:
        assert set(need.reads.values()) <= measured
        for wanted in declared.calculators[need.calculator].inputs if need.calculator else ():
            if wanted.required and wanted.measured:
                assert need.reads.get(wanted.name, wanted.name) in measured, (need, wanted.name)


def test_sac_and_tail_ring_are_replaced_together() -> None:
    """Where the last date is not known both have failed, so the two are a pair."""
    for name in ("pneumatic", "pneumatic_extending_tube"):
        sac, ring, *others = SYSTEMS[name].needs
        assert sac.together == ring.together != ""
        assert not any(need.together for need in others)


def test_the_button_is_opened_from_the_tail_first() -> None:
    """Button and bar come out before the section is warmed; a lever's section comes first."""
    button = [step.name for step in SYSTEMS["button"].steps]
    assert button.index("release_spring") < button.index("heat") < button.index("dig_out")
    assert "tail first" in SYSTEMS["button"].steps[0].note
    assert SYSTEMS["lever"].steps[0].name == "heat"


def test_tests_carry_the_figures_of_the_trade() -> None:
    """A significant fill is 0.8 ml; a squeeze-bar needs four or five presses by design."""
    tests = {name: {test.name: test for test in system.tests} for name, system in SYSTEMS.items()}
    fill = tests["lever"]["fill_by_weight"]
    assert (fill.at_least, fill.at_most, fill.unit) == (Decimal("0.8"), None, "ml")
    presses = tests["squeeze_bar"]["presses"]
    assert (presses.at_least, presses.at_most) == (4, 5)
    assert "springs back" in tests["plunger_vacuum"]["vacuum"].passes
    assert "overnight" in tests["eyedropper"]["leak"].how


@pytest.mark.parametrize(
    ("name", "step", "told"),
    [
        ("plunger_vacuum", "unscrew", "left-hand"),
        ("piston", "unscrew", "clockwise"),
        ("diaphragm_pump", "release_spring", "under load"),
        ("pneumatic_extending_tube", "release_spring", "under load"),
        ("retracting_nib_safety", "unscrew", "left-hand"),
    ],
)
def test_what_can_hurt_stands_in_the_steps(name: str, step: str, told: str) -> None:
    """Left-hand threads and springs under load are told at their step, in their system."""
    notes = [each.note for each in SYSTEMS[name].steps if each.name == step]
    assert any(told in note for note in notes), notes


def test_steps_call_for_the_cautions_that_there_are(declared: Declarations) -> None:
    """Every system fires a caution, and its words for steps and substances are those of rules."""
    rules = declared.caution_rules.values()
    steps = {rule.step for rule in rules} - {None}
    substances = {rule.substance for rule in rules} - {None}
    for name, system in SYSTEMS.items():
        fired = [step for step in system.steps if step.name in steps]
        assert fired or any(step.substance in substances for step in system.steps), name
        wet = [step for step in system.steps if step.name in {"clean", "leak_test", "fill_test"}]
        assert all(step.substance == "water" for step in wet), name


def test_kinds_of_this_plugin_can_be_kept(declared: Declarations) -> None:
    """Diaphragms, pellets, corks, locking rings and spirals are kinds with a leading dimension."""
    led_by = {
        name: kind.led_by
        for name, kind in declared.kinds.items()
        if declared.provider[f"part_kinds/{name}"] == "filling_systems"
    }
    assert led_by == {
        "diaphragm": "inside_diameter",
        "pellet": "outside_diameter",
        "cork": "outside_diameter",
        "locking_ring": "inside_diameter",
        "spiral": "outside_diameter",
    }
