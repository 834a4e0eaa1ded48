"""Every number of the trade that a washer rests on, with where it comes from."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import NANOMETRES_PER_64TH, FieldType, Setting

COMMON_PRACTICE: Final = "common practice, no source"
PUBLIC_FAQ: Final = "a restorer's public page of questions and answers on plunger fillers"

# The three head washers of one family of plunger fillers, and the hole in each.
KNOWN_HEADS_64THS: Final = (18, 21, 25)
KNOWN_HOLE_64THS: Final = 4


def _length(
    name: str, title: str, micrometres: int, source: str = COMMON_PRACTICE, text: str = ""
) -> Setting:
    """Return a setting that is a length; zero is the least it can be."""
    return _exact(name, title, micrometres * 1_000, source, text)


def _exact(name: str, title: str, nanometres: int, source: str, text: str = "") -> Setting:
    """Return a setting that is a length, given to the nanometre."""
    return Setting(
        name=f"gasket.{name}",
        title=title,
        type=FieldType.LENGTH,
        default=nanometres,
        source=source,
        unit="mm",
        help=text,
        minimum=0,
        maximum=20_000_000,
    )


def _percent(name: str, title: str, percent: int, text: str = "", most: int = 50) -> Setting:
    """Return a setting that is a percentage."""
    return Setting(
        name=f"gasket.{name}",
        title=title,
        type=FieldType.NUMBER,
        default=Decimal(percent),
        source=COMMON_PRACTICE,
        unit="%",
        help=text,
        minimum=Decimal(0),
        maximum=Decimal(most),
    )


_PACKING: Final = (
    _percent("under_rod", "How far a packing's hole is under the rod", 3, "2 to 5 % is usual."),
    _percent("under_rod_least", "The least that a packing's hole may be under the rod", 2),
    _percent("under_rod_most", "The most that a packing's hole may be under the rod", 5),
    _length("over_bore", "How far a packing's outside is over its cavity", 100),
    _length(
        "cork_oversize",
        "How far cork is turned over its bore",
        150,
        text="Cork is turned slightly over the bore and closes up when it is greased.",
    ),
    _length("cork_turn_down", "How much a cork in hand may be turned down", 2_000),
    _exact(
        "packing_thickness",
        "Thickness of packing sheet where none is given",
        2 * NANOMETRES_PER_64TH,
        f"{COMMON_PRACTICE}: sheet of 1/32 in is what is usually sold",
    ),
    _percent("packing_crush_most", "How far a stack of packing may stand over its cavity", 20),
    Setting(
        name="gasket.refuse_silicone_on_rod",
        title="Refuse silicone round a moving rod",
        type=FieldType.FLAG,
        default=True,
        source="elastomer handbooks in general: silicone tears easily where it rubs",
        help="A refusal can be overridden with a reason.",
    ),
)

_WASHER: Final = (
    _length("washer_clearance", "How far a flat washer is under the bore of its seat", 100),
    _length("washer_hole_over", "How far the hole of a flat washer is over what goes through", 100),
    _percent(
        "seat_squeeze",
        "How far a flat washer is squeezed when its seat is closed",
        15,
        "12 to 20 % is usual for a joint that does not move.",
    ),
)

_HEAD: Final = (
    _length(
        "head_over_backing",
        "How far a head washer is over its backing washer",
        100,
        f"{PUBLIC_FAQ}: a hair over; the figure is common practice",
    ),
    _length(
        "head_most_over",
        "How far over its backing washer a head washer may be at most",
        300,
        f"{PUBLIC_FAQ}: too large snags and tears; the figure is common practice",
    ),
    _length(
        "head_thickness", "Thickness of a head washer", 635, f"{PUBLIC_FAQ}: about 0.025 in is best"
    ),
    _exact(
        "head_thick_from",
        "Thickness from which a head washer is too thick",
        2 * NANOMETRES_PER_64TH,
        f"{PUBLIC_FAQ}: the 1/32 in sheet that people find is thicker than is best",
    ),
    _exact(
        "head_stem",
        "What goes through a head washer where it was not measured",
        KNOWN_HOLE_64THS * NANOMETRES_PER_64TH,
        f"{PUBLIC_FAQ}: a hole of 1/16 in",
    ),
    _length(
        "hole_under",
        "How far a hole is cut under what goes through it",
        100,
        f"{PUBLIC_FAQ}: the hole is best cut under size; the figure is common practice",
        "For head washers and for cork.",
    ),
)

_SHEET: Final = (
    Setting(
        name="gasket.punches",
        title="Punches in the workshop",
        type=FieldType.LENGTHS,
        default=tuple(
            parts * NANOMETRES_PER_64TH for parts in (KNOWN_HOLE_64THS, *KNOWN_HEADS_64THS)
        ),
        source=f"the workshop's own; to begin with, the sizes that {PUBLIC_FAQ} gives",
        unit="mm",
        help="Every diameter that can be punched; the nearest is named.",
    ),
    _length(
        "punch_tolerance",
        "How far off a punch may be to count as the size",
        100,
        text="What it cuts must fit as well: too small a head washer leaks, too large a hole too.",
    ),
    _length("spacing", "Web left between washers on a sheet", 1_000),
    _length("sheet_edge", "Edge of a sheet that is not used", 0),
)

_JUDGING: Final = (
    _length("fit_band", "How far off a washer may be and still fit", 100),
    _length("try_band", "How far off a washer may be and still be worth trying", 300),
)

SETTINGS: Final = (*_PACKING, *_WASHER, *_HEAD, *_SHEET, *_JUDGING)
