"""Where the cautions come from, and to whom every one of them defers."""

from __future__ import annotations

from typing import Final

CONSERVATION: Final = "museum conservation leaflets on early plastics"
FIRE: Final = "national fire-safety guidance on cellulose nitrate"
HEALTH: Final = "public health department advice on household chemicals"
REPAIR: Final = "published repair guides"
SAFETY_SHEETS: Final = "product safety sheets"

DEFER: Final = (
    "Follow the product's safety sheet and local rules; ask a trained person when unsure."
)
