"""Every number of the trade that a washer rests on, with where it comes from."""

from __future__ import annotations

from functools import partial
from typing import Final

from sparewell.plugin import (
    COMMON_PRACTICE,
    flag_setting,
    length_setting,
    lengths_setting,
    percent_setting,
)

PUBLIC_FAQ: Final = "a restorer's public page of questions and answers on plunger fillers"

# The three head washers of one family of plunger fillers, and the hole in each.
KNOWN_HEADS_64THS: Final = (18, 21, 25)
KNOWN_HOLE_64THS: Final = 4

_percent = partial(percent_setting, most=50)

_PACKING: Final = (
    _percent(
        "gasket.under_rod",
        "How far a packing's hole is under the rod",
        "3",
        help_text="2 to 5 % is usual.",
    ),
    _percent("gasket.under_rod_least", "The least that a packing's hole may be under the rod", "2"),
    _percent("gasket.under_rod_most", "The most that a packing's hole may be under the rod", "5"),
    length_setting("gasket.over_bore", "How far a packing's outside is over its cavity", "0.1 mm"),
    length_setting(
        "gasket.cork_oversize",
        "How far cork is turned over its bore",
        "0.15 mm",
        help_text="Cork is turned slightly over the bore and closes up when it is greased.",
    ),
    length_setting("gasket.cork_turn_down", "How much a cork in hand may be turned down", "2 mm"),
    length_setting(
        "gasket.packing_thickness",
        "Thickness of packing sheet where none is given",
        "1/32 in",
        f"{COMMON_PRACTICE}: sheet of 1/32 in is what is usually sold",
    ),
    _percent(
        "gasket.packing_crush_most", "How far a stack of packing may stand over its cavity", "20"
    ),
    flag_setting(
        "gasket.refuse_silicone_on_rod",
        "Refuse silicone round a moving rod",
        "elastomer handbooks in general: silicone tears easily where it rubs",
        "A refusal can be overridden with a reason.",
    ),
)

_WASHER: Final = (
    length_setting(
        "gasket.washer_clearance", "How far a flat washer is under the bore of its seat", "0.1 mm"
    ),
    length_setting(
        "gasket.washer_hole_over",
        "How far the hole of a flat washer is over what goes through",
        "0.1 mm",
    ),
    _percent(
        "gasket.seat_squeeze",
        "How far a flat washer is squeezed when its seat is closed",
        "15",
        help_text="12 to 20 % is usual for a joint that does not move.",
    ),
)

_HEAD: Final = (
    length_setting(
        "gasket.head_over_backing",
        "How far a head washer is over its backing washer",
        "0.1 mm",
        f"{PUBLIC_FAQ}: a hair over; the figure is common practice",
    ),
    length_setting(
        "gasket.head_most_over",
        "How far over its backing washer a head washer may be at most",
        "0.3 mm",
        f"{PUBLIC_FAQ}: too large snags and tears; the figure is common practice",
    ),
    length_setting(
        "gasket.head_thickness",
        "Thickness of a head washer",
        "0.635 mm",
        f"{PUBLIC_FAQ}: about 0.025 in is best",
    ),
    length_setting(
        "gasket.head_thick_from",
        "Thickness from which a head washer is too thick",
        "1/32 in",
        f"{PUBLIC_FAQ}: the 1/32 in sheet that people find is thicker than is best",
    ),
    length_setting(
        "gasket.head_stem",
        "What goes through a head washer where it was not measured",
        f"{KNOWN_HOLE_64THS}/64 in",
        f"{PUBLIC_FAQ}: a hole of 1/16 in",
    ),
    length_setting(
        "gasket.hole_under",
        "How far a hole is cut under what goes through it",
        "0.1 mm",
        f"{PUBLIC_FAQ}: the hole is best cut under size; the figure is common practice",
        "For head washers and for cork.",
    ),
)

_SHEET: Final = (
    lengths_setting(
        "gasket.punches",
        "Punches in the workshop",
        (f"{parts}/64 in" for parts in (KNOWN_HOLE_64THS, *KNOWN_HEADS_64THS)),
        f"the workshop's own; to begin with, the sizes that {PUBLIC_FAQ} gives",
        "Every diameter that can be punched; the nearest is named.",
    ),
    length_setting(
        "gasket.punch_tolerance",
        "How far off a punch may be to count as the size",
        "0.1 mm",
        help_text="What it cuts must fit as well: too small a head washer leaks, too large a hole "
        "too.",
    ),
    length_setting("gasket.spacing", "Web left between washers on a sheet", "1 mm"),
    length_setting("gasket.sheet_edge", "Edge of a sheet that is not used", "0 mm"),
)

_JUDGING: Final = (
    length_setting("gasket.fit_band", "How far off a washer may be and still fit", "0.1 mm"),
    length_setting(
        "gasket.try_band", "How far off a washer may be and still be worth trying", "0.3 mm"
    ),
)

SETTINGS: Final = (*_PACKING, *_WASHER, *_HEAD, *_SHEET, *_JUDGING)
