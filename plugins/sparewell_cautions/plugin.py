"""Cautions for materials, steps and substances.

Steps are what is done (`heat`, `clean`, `leak_test`, ...), substances what is put on the pen.
The ones that are not dismissible can hurt a person or destroy a pen outright. Every one of them
defers to product safety sheets, local rules and trained people.
"""

from __future__ import annotations

from sparewell.plugin import CautionRule, hook

CONSERVATION = "museum conservation leaflets on early plastics"
COMMON_PRACTICE = "common practice, no source"
DEFER = "Follow the product's safety sheet and local rules; ask a trained person when unsure."


@hook
def caution_rules() -> list[CautionRule]:
    """Return the cautions, the ones that cannot be switched off first."""
    return [*_never_dismissible(), *_dismissible()]


def _never_dismissible() -> list[CautionRule]:
    return [
        CautionRule(
            "casein_water",
            "Casein: no water at all. It swells, bends and splits; that includes soaking, "
            "flushing, ultrasonic baths, and leak and fill tests with water or ink.",
            f"{CONSERVATION}; repairers' published accounts",
            material="casein",
            substance="water",
            dismissible=False,
        ),
        CautionRule(
            "celluloid_heat",
            "Celluloid (cellulose nitrate) burns fiercely, feeds itself with oxygen, gives toxic "
            "fumes and cannot be smothered; hot air can light it with little warning. Every "
            f"heating also drives out plasticiser: count them. {DEFER}",
            f"{CONSERVATION}; national fire-safety guidance on cellulose nitrate",
            material="celluloid",
            step="heat",
            dismissible=False,
        ),
        CautionRule(
            "bleach_ammonia",
            f"Bleach and ammonia together make chloramine gas, which can kill. {DEFER}",
            "public health department advice on household chemicals",
            substance="bleach",
            dismissible=False,
        ),
        CautionRule(
            "bleach_acid",
            f"Bleach and acid (vinegar, descaler, iron-gall ink) make chlorine gas. {DEFER}",
            "public health department advice on household chemicals",
            substance="bleach",
            dismissible=False,
        ),
        CautionRule(
            "ammonia_bleach",
            f"Never let ammonia meet bleach, in the bath or in the drain: chloramine gas. {DEFER}",
            "public health department advice on household chemicals",
            substance="ammonia",
            dismissible=False,
        ),
        CautionRule(
            "flammable_solvent_heat",
            "Shellac, alcohol and naphtha are flammable: no hot air or flame until the vapour is "
            f"gone and the bottle is closed and away. {DEFER}",
            "product safety sheets of alcohol and naphtha",
            substance="alcohol",
            dismissible=False,
        ),
    ]


def _dismissible() -> list[CautionRule]:
    return [
        CautionRule(
            "heat_burns",
            "Hot-air nozzles and metal guards burn fingers.",
            COMMON_PRACTICE,
            step="heat",
        ),
        CautionRule(
            "blades",
            "Knives, picks and scrapers: cut away from the hand; picks scratch barrels.",
            COMMON_PRACTICE,
            step="dig_out",
        ),
        CautionRule(
            "springs_fly",
            "Springs under load fly out: eye protection, and open inside a bag.",
            COMMON_PRACTICE,
            step="release_spring",
        ),
        CautionRule(
            "latex_allergy",
            "Latex can cause allergy, from rash to asthma; powder carries the protein. Gloves "
            "without latex, and a note with a pen that goes back to its owner.",
            "NIOSH publication 97-135 on latex allergy",
            substance="latex",
        ),
        CautionRule(
            "talc_dust",
            "Talc and graphite dust: do not breathe it.",
            COMMON_PRACTICE,
            substance="talc",
        ),
        CautionRule(
            "old_ink",
            "Old dried ink may hold iron-gall acid and unknown preservatives: gloves, and never "
            "suck by mouth.",
            COMMON_PRACTICE,
            step="clean",
        ),
        CautionRule(
            "hard_rubber_water",
            "Hard rubber faded by light turns brown or spotted even in cold water: no soaking.",
            "published repair guides",
            material="hard rubber",
            substance="water",
        ),
        CautionRule(
            "celluloid_hot_water",
            "Hot water clouds celluloid: cool water only.",
            "published repair guides",
            material="celluloid",
            substance="water",
        ),
        CautionRule(
            "celluloid_alcohol",
            "Alcohol dissolves celluloid: keep shellac on the nipple and off the barrel.",
            "published repair guides",
            material="celluloid",
            substance="alcohol",
        ),
        CautionRule(
            "celluloid_latex",
            "Latex may darken pale celluloid in a tight-sealed barrel. Sources disagree: a risk, "
            "not a fact.",
            "published repair guides, which disagree",
            material="celluloid",
            substance="latex",
        ),
    ]
