"""What the bodies of pens are made of: each name people use, and the one the rules know it by."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

BODY_MATERIALS: Mapping[str, str] = MappingProxyType(
    {
        "celluloid": "celluloid",
        "cellulose nitrate": "celluloid",
        "casein": "casein",
        "casein plastic": "casein",
        "casein formaldehyde": "casein",
        "hard rubber": "hard rubber",
        "ebonite": "hard rubber",
        "vulcanite": "hard rubber",
        "acrylic": "acrylic",
        "polystyrene": "polystyrene",
        "cellulose acetate": "cellulose acetate",
        "moulded plastic": "moulded plastic",
    }
)
