"""The cautions that a workshop may switch off once it knows them.

What a rule does not name (material, step, substance) may be anything.
"""

from __future__ import annotations

from typing import Final

from sparewell.plugin import COMMON_PRACTICE, CautionRule
from sparewell_cautions.sources import (
    CONSERVATION,
    DEFER,
    REPAIR,
    SAFETY_SHEETS,
)

_OLD_INK: Final = (
    "Old dried ink may hold iron-gall acid and unknown preservatives: gloves, and never suck by "
    "mouth."
)

_HANDS: Final = (
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
        "left_hand_threads",
        "Left-hand threads exist at tails and packing units: find out which way before forcing.",
        REPAIR,
        step="unscrew",
    ),
    CautionRule(
        "bar_long_end",
        "Pulling a J-bar out by its long end breaks it: hook it near the crook.",
        REPAIR,
        step="remove_bar",
    ),
)

_BREATH: Final = (
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
        "graphite_dust",
        "Graphite dust: do not breathe it, and keep it off electrics.",
        COMMON_PRACTICE,
        substance="graphite",
    ),
    CautionRule("old_ink", _OLD_INK, COMMON_PRACTICE, step="clean"),
    CautionRule("old_ink_dig_out", _OLD_INK, COMMON_PRACTICE, step="dig_out"),
    CautionRule("old_ink_flush", _OLD_INK, COMMON_PRACTICE, step="flush"),
    CautionRule(
        "ammonia_air",
        f"Ammonia: open a window, weak and short, eyes and skin covered. {DEFER}",
        f"{SAFETY_SHEETS} of household ammonia",
        substance="ammonia",
    ),
    CautionRule(
        "silicone_adhesive_cure",
        "Silicone adhesive gives off acetic acid while it cures: air the room, metal parts apart.",
        f"{SAFETY_SHEETS} of silicone adhesive",
        substance="silicone adhesive",
    ),
)

_CLEANING: Final = (
    CautionRule(
        "ammonia_parts",
        "Ammonia: not on gold nibs (stressed alloys crack, slowly and for good), latex, copper "
        "alloys or plated trim.",
        "conservation and gold journals on stress-corrosion; repair guides, which disagree; "
        f"metals: {COMMON_PRACTICE}",
        substance="ammonia",
    ),
    CautionRule(
        "hard_rubber_water",
        "Hard rubber faded by light turns brown or spotted even in cold water: no soaking.",
        REPAIR,
        material="hard rubber",
        substance="water",
    ),
    CautionRule(
        "celluloid_hot_water",
        "Hot water clouds celluloid: cool water only.",
        REPAIR,
        material="celluloid",
        substance="water",
    ),
    CautionRule(
        "celluloid_alcohol",
        "Alcohol dissolves celluloid: keep shellac on the nipple and off the barrel.",
        REPAIR,
        material="celluloid",
        substance="alcohol",
    ),
    CautionRule(
        "acrylic_alcohol",
        "Alcohol crazes acrylic, at once or weeks later: keep it off.",
        REPAIR,
        material="acrylic",
        substance="alcohol",
    ),
    CautionRule(
        "acetone_plastics",
        "Acetone dissolves celluloid, acrylic and other plastics: never on a pen.",
        REPAIR,
        substance="acetone",
    ),
    CautionRule(
        "ultrasonic_immersion",
        "Ultrasonic: immerse wholly or not at all, in bursts of 15 to 30 s. Not what is inlaid or "
        "painted.",
        f"a repairer's published account of a part-dipped barrel; painted, inlaid: "
        f"{COMMON_PRACTICE}",
        step="ultrasonic",
    ),
    CautionRule(
        "celluloid_ultrasonic",
        "Thin celluloid heats and blisters in an ultrasonic bath, most of all just above the "
        "water: short bursts, and look between them.",
        "a repairer's published account of a part-dipped barrel",
        material="celluloid",
        step="ultrasonic",
    ),
    CautionRule(
        "cap_rubber_disc",
        "A rubber disc above an inner cap gives off sulphur once it is wet: take it out, or keep "
        "the cap dry.",
        REPAIR,
        step="clean_cap",
    ),
    CautionRule(
        "hard_rubber_wet_sand",
        "Never wet-sand hard rubber or chasing: it discolours, and the pattern is lost.",
        REPAIR,
        material="hard rubber",
        step="polish",
    ),
)

_FITTING: Final = (
    CautionRule(
        "celluloid_latex",
        "Latex may darken pale celluloid in a tight-sealed barrel. Sources disagree: a risk, "
        "not a fact.",
        "published repair guides, which disagree",
        material="celluloid",
        substance="latex",
    ),
    CautionRule(
        "celluloid_pvc",
        "Plasticiser from soft PVC melts celluloid, for good: take the PVC out and keep it away.",
        REPAIR,
        material="celluloid",
        substance="pvc",
    ),
    CautionRule(
        "polystyrene_pvc",
        "Plasticiser from soft PVC melts polystyrene and moulded nipples, for good: keep it away.",
        REPAIR,
        material="polystyrene",
        substance="pvc",
    ),
    CautionRule(
        "cyanoacrylate_permanent",
        "Cyanoacrylate on a nipple or a thread is permanent: the next repair destroys the part. "
        "Shellac lets go again.",
        COMMON_PRACTICE,
        substance="cyanoacrylate",
    ),
    CautionRule(
        "epoxy_permanent",
        "Epoxy on a nipple or a thread is permanent: the next repair destroys the part. Shellac "
        "lets go again.",
        COMMON_PRACTICE,
        substance="epoxy",
    ),
)

_KEEPING: Final = (
    CautionRule(
        "celluloid_store",
        "Keep celluloid cool, dry and aired, not in sealed bags and not wrapped, apart from "
        "metals, latex and PVC.",
        CONSERVATION,
        material="celluloid",
        step="store",
    ),
    CautionRule(
        "celluloid_decay",
        "Celluloid decays at any temperature, quickly from about 150 °C; its acid vapours attack "
        "whatever lies beside it.",
        CONSERVATION,
        material="celluloid",
        step="store",
    ),
    CautionRule(
        "celluloid_crazed",
        "Celluloid that is crazed, sweats or smells of acid: set it apart, do not heat it, do not "
        "wet-sand it.",
        f"{CONSERVATION}; {REPAIR}",
        material="celluloid",
        step="assess",
    ),
)

DISMISSIBLE: Final = (*_HANDS, *_BREATH, *_CLEANING, *_FITTING, *_KEEPING)
