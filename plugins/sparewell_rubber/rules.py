"""Storage life by material, for each published scheme and for the workshop's own.

The schemes are not comparable year for year, so a date always comes from one scheme alone. They
speak of storage in the packet, not of life in a pen. One table serves the lots in stock and the
calculator. Materials carry the letters of ISO 1629 where the trade has no shorter word: "latex" is
natural rubber (NR), "silicone" is VMQ, "epdm" stands for EPM too.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from sparewell.plugin import COMMON_PRACTICE, AgeingRule


class Scheme(StrEnum):
    """Who says how long a material keeps."""

    ISO_2230 = "iso2230"
    ARP_5316 = "arp5316"
    WORKSHOP = "workshop"


ISO_2230: Final = "ISO 2230:2002, initial storage period of the rubber's group"
ARP_5316: Final = "SAE ARP5316, as MIL-HDBK-695E and seal suppliers summarise it"

# Group: (years, years of extension after an inspection, the rubbers in it).
ISO_GROUPS: Final[dict[str, tuple[int, int, tuple[str, ...]]]] = {
    "A": (5, 2, ("latex", "ir", "br", "sbr", "au", "eu")),
    "B": (7, 3, ("nbr", "hnbr", "cr", "acm", "eco", "iir")),
    "C": (10, 5, ("epdm", "fkm", "ffkm", "silicone", "fvmq", "csm")),
}

# Years (None is not limited) and the materials; natural rubber has no figure that is sure.
_ARP_YEARS: Final[tuple[tuple[int | None, tuple[str, ...]], ...]] = (
    (None, ("iir", "epdm", "fkm", "fvmq", "ffkm", "silicone", "ptfe")),
    (15, ("nbr", "hnbr", "cr", "acm", "aem")),
    (5, ("au", "eu")),
    (3, ("sbr",)),
)

_WORKSHOP: Final[tuple[tuple[str, int | None, str], ...]] = (
    ("latex", 5, f"{ISO_2230} (group A, natural rubber)"),
    ("nbr", 15, "SAE ARP5316, nitrile rubber, as summarised by seal suppliers"),
    ("epdm", None, "SAE ARP5316, as summarised by seal suppliers"),
    ("fkm", None, "SAE ARP5316, as summarised by seal suppliers"),
    ("silicone", None, "SAE ARP5316, as summarised by seal suppliers"),
    ("pvc", 10, COMMON_PRACTICE),
)


def _rule(
    scheme: Scheme,
    material: str,
    years: int | None,
    source: str,
    extension_years: int | None = None,
) -> AgeingRule:
    """Return one rule under the name by which lots find it."""
    return AgeingRule(
        f"{scheme.value}_{material}", scheme.value, material, years, source, extension_years
    )


def _all() -> tuple[AgeingRule, ...]:
    """Return every rule of every scheme."""
    iso = (
        _rule(Scheme.ISO_2230, material, years, f"{ISO_2230} (group {group})", extension_years)
        for group, (years, extension_years, materials) in ISO_GROUPS.items()
        for material in materials
    )
    arp = (
        _rule(Scheme.ARP_5316, material, years, ARP_5316)
        for years, materials in _ARP_YEARS
        for material in materials
    )
    workshop = (
        _rule(Scheme.WORKSHOP, material, years, source) for material, years, source in _WORKSHOP
    )
    return (*iso, *arp, *workshop)


RULES: Final[dict[str, AgeingRule]] = {rule.name: rule for rule in _all()}

# Other words for the same materials, as they stand on packets.
_SAME: Final = {
    "nr": "latex",
    "natural rubber": "latex",
    "rubber latex": "latex",
    "nitrile": "nbr",
    "nitrile rubber": "nbr",
    "hydrogenated nitrile": "hnbr",
    "vmq": "silicone",
    "silicone rubber": "silicone",
    "epm": "epdm",
    "fpm": "fkm",
    "fluorocarbon rubber": "fkm",
    "fluoroelastomer": "fkm",
    "perfluoroelastomer": "ffkm",
    "fluorosilicone": "fvmq",
    "chloroprene": "cr",
    "butyl": "iir",
    "butyl rubber": "iir",
    "polyurethane": "au",
    "styrene-butadiene": "sbr",
    "vinyl": "pvc",
    "soft vinyl": "pvc",
}

# Materials the standards do not speak of at all.
NO_RUBBER: Final = ("pvc", "cork", "felt", "leather", "ptfe")


def material_named(text: str) -> str:
    """Return a material as the rules know it; any other text in small letters as it stands."""
    small = " ".join(text.lower().split())
    return _SAME.get(small, small)


def rule_for(scheme: Scheme, material: str) -> AgeingRule | None:
    """Return the rule of this scheme alone, or None where it has none."""
    return RULES.get(f"{scheme.value}_{material}")


def schemes_with(material: str) -> tuple[str, ...]:
    """Return the names of the schemes that have a rule for a material."""
    return tuple(scheme.value for scheme in Scheme if rule_for(scheme, material) is not None)
