"""The order of every template's steps."""

from __future__ import annotations

import pytest

from sparewell.plugin import FillingSystem
from sparewell_filling_systems.plugin import filling_systems

SYSTEMS = {each.name: each for each in filling_systems()}
TESTED_WET = {"fill_test", "leak_test"}


def places(system: FillingSystem, *names: str) -> list[int]:
    """Return where steps of these names stand."""
    return [place for place, step in enumerate(system.steps) if step.name in names]


@pytest.mark.parametrize("name", SYSTEMS)
def test_no_pen_is_filled_before_it_is_closed(name: str) -> None:
    """Glue, grease, talc and closing all come before the first fill or leak test."""
    system = SYSTEMS[name]
    tested = places(system, *TESTED_WET)
    before = places(system, "fit", "glue", "assemble", "close", "refit_guard", "lubricate", "set")
    assert not tested or not before or max(before) < min(tested)


@pytest.mark.parametrize("name", ["pneumatic", "pneumatic_extending_tube"])
def test_a_pneumatic_pen_is_sealed_before_it_is_tested(name: str) -> None:
    """Guard on, tail ring and seal, pressure, and only then the fill."""
    system = SYSTEMS[name]
    order = ("refit_guard", "seal", "pressure_test", "fill_test", "leak_test", "before_return")
    found = [place for step in order for place in places(system, step)]
    assert len(found) == len(order)
    assert found == sorted(found)


@pytest.mark.parametrize("name", ["lever", "button", "crescent"])
def test_a_sac_goes_on_while_the_shellac_is_wet(name: str) -> None:
    """Old sac out, clean, dry-fit, glue, sac on, air test, talc, close, fill, seal last."""
    steps = [step.name for step in SYSTEMS[name].steps if step.name != "replace_bar"]
    order = ["fit", "glue", "fit", "air_test", "assemble", "close", "fill_test", "leak_test"]
    order += ["seal", "before_return"]
    assert steps[-len(order) :] == order
    assert steps.index("dig_out") < steps.index("clean") < steps.index("fit")


def test_the_bar_of_a_button_filler_goes_in_last() -> None:
    """It goes in from the tail once the section is home; a lever's goes in before the sac."""
    button, lever = SYSTEMS["button"], SYSTEMS["lever"]
    assert places(button, "replace_bar") > places(button, "close")
    assert places(lever, "replace_bar") < places(lever, "glue")


def test_grease_comes_after_what_is_to_set() -> None:
    """A vacuum filler is fitted, sealed and left to set before anything is greased."""
    system = SYSTEMS["plunger_vacuum"]
    order = ("fit", "seal", "set", "lubricate", "fill_test")
    found = [place for step in order for place in places(system, step)]
    assert found == sorted(found)


def test_a_cork_is_soaked_before_it_is_fitted() -> None:
    """The piston's cork is soaked first."""
    system = SYSTEMS["piston"]
    assert places(system, "soak_cork") < places(system, "fit")
