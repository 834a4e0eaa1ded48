"""The components that are taken from donors, with what they are matched by.

Threads are matched by major diameter, lead, starts and hand: an old cap often has three starts.
Bounds of the usual are common practice, no source; outside them there is a warning and no refusal.
A section and a filler unit are looked up by what enters the barrel, a cap by its thread (one that
only slips on has none: search it by its inside diameter, at the lip).
"""

from __future__ import annotations

from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Field, FieldType, KindDimension, PartKind

PLASTICS: Final = (
    "celluloid",
    "hard rubber",
    "casein",
    "acrylic",
    "polystyrene",
    "cellulose acetate",
    "moulded plastic",
)
METALS: Final = (
    "gold-filled",
    "gold-plated",
    "nickel-plated",
    "chrome-plated",
    "silver",
    "brass",
    "steel",
    "stainless steel",
    "aluminium",
)
GRADES: Final = (
    "UEF", "EF", "F", "MF", "M", "B", "BB", "BBB",
    "OF", "OM", "OB", "OBB", "stub", "italic", "music", "manifold",
)  # fmt: skip
FLEXIBILITIES: Final = ("rigid", "soft", "semi_flexible", "flexible")


def _usual(name: str, low_tenths: int, high_tenths: int) -> KindDimension:
    """Return a dimension with its usual bounds, in tenths of a millimetre."""
    tenth_nanometres = NANOMETRES_PER_MILLIMETRE // 10
    return KindDimension(name, (low_tenths * tenth_nanometres, high_tenths * tenth_nanometres))


_COLOUR: Final = Field(
    name="colour_note",
    title="Colour and pattern",
    type=FieldType.TEXT,
    help="With ambering, fading, and for metal its plating and wear.",
)
_THREAD: Final = (
    Field(
        name="thread_starts",
        title="Starts of the thread",
        type=FieldType.INTEGER,
        help="Count the beginnings of the thread round its mouth. Lead = pitch x starts.",
        minimum=1,
        maximum=8,
    ),
    Field(
        name="thread_hand",
        title="Hand of the thread",
        type=FieldType.CHOICE,
        help="Left-hand threads occur at tails: they close anticlockwise.",
        choices=("right", "left"),
    ),
)
_THREAD_DIMENSIONS: Final = (_usual("thread_diameter", 30, 160), _usual("thread_lead", 3, 60))

_NIB_ATTRIBUTES: Final = (
    Field(
        name="grade",
        title="Grade of the line",
        type=FieldType.CHOICE,
        help="As it writes, if known, else as it is marked: there is no standard.",
        choices=GRADES,
    ),
    Field(
        name="flexibility",
        title="Flexibility",
        type=FieldType.CHOICE,
        choices=FLEXIBILITIES,
        help="How far the tines spread under the hand's own pressure.",
    ),
    Field(
        name="number_note",
        title="Number stamped on it",
        type=FieldType.TEXT,
        help="Private to each maker: never equate two makers' numbers.",
    ),
    _COLOUR,
)


def _part(
    name: str,
    title: str,
    led_by: str,
    dimensions: tuple[KindDimension, ...],
    materials: tuple[str, ...],
    attributes: tuple[Field, ...] = (_COLOUR,),
) -> PartKind:
    """Return one kind of component, counted by the piece."""
    return PartKind(
        name=name,
        title=title,
        dimensions=dimensions,
        led_by=led_by,
        materials=materials,
        attributes=attributes,
    )


_WRITING_END: Final = (
    _part(
        "nib",
        "Nib",
        "outside_diameter",  # of the feed it is bent round, or of its collar
        (
            _usual("outside_diameter", 35, 90),
            _usual("length", 120, 400),
            _usual("width", 40, 110),  # across the shoulders
            _usual("thickness", 2, 8),
        ),
        ("gold", "steel", "stainless steel", "palladium-silver", "titanium"),
        _NIB_ATTRIBUTES,
    ),
    _part(
        "feed",
        "Feed",
        "outside_diameter",
        (_usual("outside_diameter", 30, 70), _usual("length", 150, 500)),
        ("hard rubber", "moulded plastic"),
    ),
    _part(
        "section",
        "Section",
        "outside_diameter",  # of the tenon that enters the barrel
        (
            _usual("outside_diameter", 50, 120),
            _usual("inside_diameter", 30, 80),
            _usual("neck_diameter", 30, 100),  # of the nipple
            _usual("length", 80, 300),
            *_THREAD_DIMENSIONS,
        ),
        (*PLASTICS, "metal"),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "breather_tube",
        "Breather tube",
        "outside_diameter",
        (
            _usual("outside_diameter", 8, 35),
            _usual("inside_diameter", 4, 25),
            _usual("length", 150, 900),
        ),
        ("celluloid", "moulded plastic", "silver", "stainless steel"),
    ),
)

_CAP: Final = (
    _part(
        "cap",
        "Cap",
        "thread_diameter",
        (
            *_THREAD_DIMENSIONS,
            _usual("inside_diameter", 80, 160),  # at the lip
            _usual("outside_diameter", 90, 190),
            _usual("length", 350, 850),
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "inner_cap",
        "Inner cap",
        "inside_diameter",
        (
            _usual("inside_diameter", 60, 130),
            _usual("outside_diameter", 70, 150),
            _usual("length", 150, 500),
            _usual("depth", 100, 480),
        ),
        (*PLASTICS, "metal"),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "clip",
        "Clip",
        "length",
        (
            _usual("length", 200, 500),
            _usual("width", 15, 90),
            _usual("inside_diameter", 30, 120),  # of the ring it hangs by
        ),
        METALS,
    ),
    _part(
        "cap_ring",
        "Cap ring or band",
        "inside_diameter",
        (
            _usual("inside_diameter", 80, 170),
            _usual("outside_diameter", 85, 180),
            _usual("width", 5, 120),
            _usual("thickness", 1, 10),
        ),
        METALS,
    ),
    _part(
        "jewel",
        "Jewel or end ornament",
        "outside_diameter",
        (_usual("outside_diameter", 20, 120), _usual("length", 15, 150), *_THREAD_DIMENSIONS),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
)

_FILLER: Final = (
    _part(
        "lever",
        "Lever",
        "length",
        (_usual("length", 150, 400), _usual("width", 10, 40), _usual("thickness", 5, 30)),
        METALS,
    ),
    _part(
        "lever_box",
        "Lever box, ring or pin",
        "length",
        (
            _usual("length", 20, 400),
            _usual("width", 10, 60),
            _usual("outside_diameter", 50, 130),  # of a ring
            _usual("wire_diameter", 4, 15),
        ),
        METALS,
    ),
    _part(
        "button",
        "Button",
        "outside_diameter",
        (
            _usual("outside_diameter", 20, 90),
            _usual("inside_diameter", 10, 80),
            _usual("length", 20, 150),
        ),
        METALS,
    ),
    _part(
        "blind_cap",
        "Blind cap",
        "thread_diameter",
        (
            *_THREAD_DIMENSIONS,
            _usual("outside_diameter", 50, 140),
            _usual("inside_diameter", 30, 120),
            _usual("length", 40, 300),
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "filler_unit",
        "Filler unit",
        "outside_diameter",
        (_usual("outside_diameter", 40, 130), _usual("length", 150, 900), *_THREAD_DIMENSIONS),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "sac_guard",
        "Sac guard",
        "inside_diameter",
        (
            _usual("inside_diameter", 50, 110),
            _usual("outside_diameter", 55, 120),
            _usual("length", 200, 800),
        ),
        METALS,
    ),
    _part(
        "rod",
        "Plunger or shut-off rod",
        "outside_diameter",
        (_usual("outside_diameter", 8, 40), _usual("length", 300, 1100), *_THREAD_DIMENSIONS),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "converter_seal",
        "Converter seal",
        "inside_diameter",  # the nozzle it goes over, less its grip
        (
            _usual("inside_diameter", 10, 60),
            _usual("outside_diameter", 20, 90),
            _usual("length", 5, 80),
        ),
        ("nbr", "epdm", "silicone", "fkm", "moulded plastic"),
    ),
    _part(
        "barrel",
        "Barrel",
        "inside_diameter",  # of the mouth that takes the section
        (
            _usual("inside_diameter", 50, 130),
            _usual("outside_diameter", 80, 170),
            _usual("length", 450, 1100),
            _usual("depth", 300, 1050),
            *_THREAD_DIMENSIONS,
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
)

KINDS: Final = (*_WRITING_END, *_CAP, *_FILLER)
