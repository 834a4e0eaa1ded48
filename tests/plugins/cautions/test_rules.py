"""The cautions as data: the five families that stay, and what calls for each of the others."""

from __future__ import annotations

import pytest

from sparewell.cautions.operations import cautions_for
from sparewell.extend.checks import check_name
from sparewell.extend.host import Declarations
from sparewell_cautions.dismissible import DISMISSIBLE
from sparewell_cautions.never_dismissible import NEVER_DISMISSIBLE
from sparewell_cautions.plugin import caution_rules

BY_NAME = {rule.name: rule for rule in caution_rules()}
DECLARED = Declarations(caution_rules=BY_NAME)

# The names that were there before; people and texts refer to them.
KEPT = {
    "casein_water",
    "celluloid_heat",
    "bleach_ammonia",
    "bleach_acid",
    "ammonia_bleach",
    "flammable_solvent_heat",
    "heat_burns",
    "blades",
    "springs_fly",
    "latex_allergy",
    "talc_dust",
    "old_ink",
    "hard_rubber_water",
    "celluloid_hot_water",
    "celluloid_alcohol",
    "celluloid_latex",
}

# material, step, substance, and words that one caution must have that cannot be switched off.
NEVER = (
    ("casein", "clean", "water", "no water at all"),
    ("casein", "leak_test", "water", "leak and fill tests"),
    ("casein", "leak_test", None, "no leak test"),
    ("casein", "fill_test", None, "no fill test"),
    ("casein", "fill_test", "ink", "wets it as water does"),
    ("casein", "soak", None, "no soaking"),
    ("casein", "flush", "ammonia", "none"),
    ("casein", "ultrasonic", None, "no ultrasonic"),
    ("celluloid", "heat", None, "burns fiercely"),
    ("celluloid", "grind", None, "burn like the sheet"),
    ("celluloid", "polish", None, "buffing wheel"),
    ("acrylic", "clean", "bleach", "chloramine"),
    ("acrylic", "clean", "bleach", "chlorine gas"),
    ("acrylic", "clean", "ammonia", "chloramine"),
    ("acrylic", "clean", "acid", "chlorine gas"),
    ("acrylic", "glue", "alcohol", "no hot air or flame"),
    ("acrylic", "glue", "shellac", "no hot air or flame"),
    ("acrylic", "degrease", "naphtha", "no hot air or flame"),
    ("acrylic", "degrease", "acetone", "no hot air or flame"),
    ("acrylic", "heat", None, "before hot air is switched on"),
)

DISMISSED = (
    ("acrylic", "heat", None, "burn fingers"),
    ("acrylic", "dig_out", None, "away from the hand"),
    ("acrylic", "dig_out", None, "never suck by mouth"),
    ("acrylic", "flush", "water", "never suck by mouth"),
    ("acrylic", "release_spring", None, "eye protection"),
    ("acrylic", "unscrew", None, "left-hand"),
    ("acrylic", "remove_bar", None, "long end"),
    ("acrylic", "fit", "latex", "allergy"),
    ("acrylic", "assemble", "talc", "do not breathe"),
    ("acrylic", "assemble", "graphite", "do not breathe"),
    ("acrylic", "clean", "ammonia", "gold nibs"),
    ("acrylic", "clean", "ammonia", "open a window"),
    ("acrylic", "glue", "silicone adhesive", "acetic acid"),
    ("acrylic", "clean", "alcohol", "crazes"),
    ("polystyrene", "clean", "acetone", "dissolves"),
    ("acrylic", "ultrasonic", "water", "wholly or not at all"),
    ("celluloid", "ultrasonic", "water", "blisters"),
    ("acrylic", "clean_cap", None, "sulphur"),
    ("hard rubber", "polish", None, "wet-sand"),
    ("hard rubber", "clean", "water", "no soaking"),
    ("celluloid", "clean", "water", "clouds celluloid"),
    ("celluloid", "fit", "latex", "darken"),
    ("celluloid", "fit", "pvc", "melts celluloid"),
    ("polystyrene", "fit", "pvc", "melts polystyrene"),
    ("acrylic", "glue", "cyanoacrylate", "permanent"),
    ("acrylic", "glue", "epoxy", "permanent"),
    ("celluloid", "store", None, "not in sealed bags"),
    ("celluloid", "store", None, "acid vapours"),
    ("celluloid", "assess", None, "sweats"),
)


def called(material: str, step: str, substance: str | None, *, dismissible: bool) -> list[str]:
    """Return the cautions for one step on one pen, in small letters."""
    steps = [{"name": step, "substance": substance}]
    found = cautions_for(DECLARED, [material], steps)
    return [one.caution.lower() for one in found if one.dismissible is dismissible]


@pytest.mark.parametrize(("material", "step", "substance", "words"), NEVER)
def test_the_five_families_cannot_be_switched_off(material, step, substance, words) -> None:
    """Each half of each family, whichever way it comes to the bench, calls for its caution."""
    texts = called(material, step, substance, dismissible=False)
    assert any(words in text for text in texts), texts


@pytest.mark.parametrize(("material", "step", "substance", "words"), DISMISSED)
def test_every_other_caution_is_called_by_its_trigger(material, step, substance, words) -> None:
    """The rest of what is known to go wrong is called for, and may be switched off."""
    texts = called(material, step, substance, dismissible=True)
    assert any(words in text for text in texts), texts


@pytest.mark.parametrize("step", ["clean", "leak_test", "fill_test"])
def test_unknown_material_counts_as_casein_for_water(step) -> None:
    """A pen of unknown material is warned of water as casein, and of heat as celluloid."""
    texts = called("pearly stuff", step, "water", dismissible=False)
    assert any("not fully known" in text and "casein" in text for text in texts)
    heated = called("pearly stuff", "heat", None, dismissible=False)
    assert any("not fully known" in text and "burns fiercely" in text for text in heated)


def test_a_known_pen_is_not_warned_of_other_materials() -> None:
    """Hard rubber in water hears nothing of casein, and cold celluloid nothing of fire."""
    texts = called("hard rubber", "leak_test", "water", dismissible=False)
    assert not any("casein" in text for text in texts)
    cold = called("celluloid", "clean", "water", dismissible=False)
    assert not any("burns" in text for text in cold)


def test_names_are_kept_and_come_once() -> None:
    """The names that were there before still are, none comes twice, and the two lists are apart."""
    names = [rule.name for rule in caution_rules()]
    assert set(names) >= KEPT
    assert len(names) == len(set(names))
    assert not any(rule.dismissible for rule in NEVER_DISMISSIBLE)
    assert all(rule.dismissible for rule in DISMISSIBLE)


def test_every_caution_has_a_source_and_the_grave_ones_defer() -> None:
    """Each names its source; fire, gas and solvents defer to safety sheets and trained people."""
    for rule in caution_rules():
        check_name(rule)
        assert rule.source
        assert rule.caution.endswith(".")
        assert rule.material or rule.step or rule.substance, rule.name
    for rule in NEVER_DISMISSIBLE:
        if not rule.name.startswith("casein"):
            assert "safety sheet" in rule.caution, rule.name


def test_celluloid_hears_of_no_fire_that_is_not_its_own() -> None:
    """Only celluloid (or the unknown) is warned that it burns by itself."""
    assert not any(
        "burns fiercely" in t for t in called("acrylic", "heat", None, dismissible=False)
    )


@pytest.mark.parametrize(
    ("material", "step", "substance", "word"),
    [
        ("casein", "heat", None, "warps"),
        ("acrylic", "fit", "silicone", "silicone adhesive"),
        ("acrylic", "lubricate", "petroleum", "soften latex"),
        ("acrylic", "lubricate", "silicone grease", "glue first"),
        ("hard rubber", "clean", "hot water", "brown"),
        ("acrylic", "ultrasonic", None, "glued joints"),
        ("acrylic", "soak_cork", None, "dry cork"),
    ],
)
def test_joints_and_rubbers_have_their_cautions(
    material: str, step: str, substance: str | None, word: str
) -> None:
    """What spoils a joint or a part is said, with where that comes from."""
    steps = [{"name": step, "substance": substance, "note": ""}]
    found = cautions_for(DECLARED, [material], steps)
    assert any(word in each.caution for each in found)
    assert all(rule.source for rule in caution_rules())
