"""Reading settings by their type, and the note of those that an answer rests on."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from sparewell.extend.inputs import SettingValues
from sparewell.plugin import Inputs

VALUES = {
    "a.length": 900_000,
    "a.lengths": (1, 2),
    "a.number": Decimal("2.5"),
    "a.flag": True,
    "a.text": "thin",
    "a.null": None,
}


def test_each_getter_returns_its_own_type() -> None:
    """Length, list, number, count, flag and text come back as they were declared."""
    settings = SettingValues(VALUES)
    assert settings.length("a.length") == settings.count("a.length") == 900_000
    assert settings.lengths("a.lengths") == (1, 2)
    assert settings.number("a.number") == Fraction(5, 2)
    assert settings.flag("a.flag") is True
    assert settings.text("a.text") == "thin"


@pytest.mark.parametrize("name", VALUES)
@pytest.mark.parametrize("getter", ["length", "lengths", "number", "count", "flag", "text"])
def test_getter_refuses_every_other_type(getter: str, name: str) -> None:
    """A getter raises TypeError for null and for a setting of another type, and names it."""
    fitting = {
        "length": {"a.length"},
        "count": {"a.length"},
        "lengths": {"a.lengths"},
        "number": {"a.number", "a.length"},
        "flag": {"a.flag"},
        "text": {"a.text"},
    }
    if name in fitting[getter]:
        return
    with pytest.raises(TypeError, match=name):
        getattr(SettingValues(VALUES), getter)(name)


def test_inputs_note_the_settings_that_were_read() -> None:
    """Every getter notes its setting, and a changed copy writes into the same note."""
    inputs = Inputs({}, spreads={}, settings=VALUES)
    inputs.setting_length("a.length")
    inputs.setting_flag("a.flag")
    inputs.changed(bore=1).setting_text("a.text")
    assert inputs.settings_read == {"a.length": 900_000, "a.flag": True, "a.text": "thin"}
