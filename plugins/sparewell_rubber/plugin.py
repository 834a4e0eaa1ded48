"""Storage life by material, for each published scheme and for the workshop's own.

The schemes are not comparable year for year, so a lot's date always comes from one scheme alone.
They speak of storage in the packet, not of life in a pen.
"""

from __future__ import annotations

from sparewell.plugin import AgeingRule, hook

ISO_2230 = "ISO 2230:2002, initial storage period of the rubber's group"
COMMON_PRACTICE = "common practice, no source"

# material: (years by ISO 2230:2002, years by workshop practice); None is "not limited".
_YEARS: dict[str, tuple[int, int | None, str]] = {
    "latex": (5, 5, ISO_2230 + " (group A, natural rubber)"),
    "nbr": (7, 15, "SAE ARP5316, nitrile rubber, as summarised by seal suppliers"),
    "epdm": (10, None, "SAE ARP5316, as summarised by seal suppliers"),
    "fkm": (10, None, "SAE ARP5316, as summarised by seal suppliers"),
    "silicone": (10, None, "SAE ARP5316, as summarised by seal suppliers"),
}


@hook
def ageing_rules() -> list[AgeingRule]:
    """Return the rules of the ISO 2230 scheme and of the workshop's own."""
    rules = [
        AgeingRule(f"iso2230_{material}", "iso2230", material, iso_years, ISO_2230)
        for material, (iso_years, _, _) in _YEARS.items()
    ]
    rules += [
        AgeingRule(f"workshop_{material}", "workshop", material, years, source)
        for material, (_, years, source) in _YEARS.items()
    ]
    rules.append(AgeingRule("workshop_pvc", "workshop", "pvc", 10, COMMON_PRACTICE))
    return rules
