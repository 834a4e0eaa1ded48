"""The published head washers as a table of sizes."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import NANOMETRES_PER_64TH, Output, OutputType, SizeTable
from sparewell_gaskets.settings import KNOWN_HEADS_64THS, KNOWN_HOLE_64THS, PUBLIC_FAQ
from sparewell_gaskets.wording import trade_text

HEAD_WASHERS: Final = SizeTable(
    name="head_washers",
    title="Head washers of one family of plunger fillers",
    source=PUBLIC_FAQ,
    columns=(
        Output("size", OutputType.TEXT, "The outside diameter as it is called."),
        Output("outside_diameter", OutputType.LENGTH, "Outside diameter."),
        Output("inside_diameter", OutputType.LENGTH, "The hole; it is best cut under size."),
        Output("thickness", OutputType.LENGTH, "About the best thickness."),
    ),
    rows=tuple(
        {
            "size": trade_text(parts * NANOMETRES_PER_64TH),
            "outside_diameter": parts * NANOMETRES_PER_64TH,
            "inside_diameter": KNOWN_HOLE_64THS * NANOMETRES_PER_64TH,
            "thickness": 635_000,
        }
        for parts in KNOWN_HEADS_64THS
    ),
)
