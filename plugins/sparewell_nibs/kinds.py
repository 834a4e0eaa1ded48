"""The components that are taken from donors, with what they are matched by.

Threads are matched by major diameter, lead, starts and hand: an old cap often has three starts.
Bounds of the usual are common practice, no source; outside them there is a warning and no refusal.
A section and a filler unit are looked up by what enters the barrel, a cap by its thread (one that
only slips on has none: search it by its inside diameter, at the lip).
"""

from __future__ import annotations

from typing import Final

from sparewell.plugin import Field, FieldType, KindDimension, PartKind

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
_THREAD_DIMENSIONS: Final = (
    KindDimension.usual("thread_diameter", "3", "16"),
    KindDimension.usual("thread_lead", "0.3", "6"),
)

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
            KindDimension.usual("outside_diameter", "3.5", "9"),
            KindDimension.usual("length", "12", "40"),
            KindDimension.usual("width", "4", "11"),  # across the shoulders
            KindDimension.usual("thickness", "0.2", "0.8"),
        ),
        ("gold", "steel", "stainless steel", "palladium-silver", "titanium"),
        _NIB_ATTRIBUTES,
    ),
    _part(
        "feed",
        "Feed",
        "outside_diameter",
        (
            KindDimension.usual("outside_diameter", "3", "7"),
            KindDimension.usual("length", "15", "50"),
        ),
        ("hard rubber", "moulded plastic"),
    ),
    _part(
        "section",
        "Section",
        "outside_diameter",  # of the tenon that enters the barrel
        (
            KindDimension.usual("outside_diameter", "5", "12"),
            KindDimension.usual("inside_diameter", "3", "8"),
            KindDimension.usual("neck_diameter", "3", "10"),  # of the nipple
            KindDimension.usual("length", "8", "30"),
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
            KindDimension.usual("outside_diameter", "0.8", "3.5"),
            KindDimension.usual("inside_diameter", "0.4", "2.5"),
            KindDimension.usual("length", "15", "90"),
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
            KindDimension.usual("inside_diameter", "8", "16"),  # at the lip
            KindDimension.usual("outside_diameter", "9", "19"),
            KindDimension.usual("length", "35", "85"),
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "inner_cap",
        "Inner cap",
        "inside_diameter",
        (
            KindDimension.usual("inside_diameter", "6", "13"),
            KindDimension.usual("outside_diameter", "7", "15"),
            KindDimension.usual("length", "15", "50"),
            KindDimension.usual("depth", "10", "48"),
        ),
        (*PLASTICS, "metal"),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "clip",
        "Clip",
        "length",
        (
            KindDimension.usual("length", "20", "50"),
            KindDimension.usual("width", "1.5", "9"),
            KindDimension.usual("inside_diameter", "3", "12"),  # of the ring it hangs by
        ),
        METALS,
    ),
    _part(
        "cap_ring",
        "Cap ring or band",
        "inside_diameter",
        (
            KindDimension.usual("inside_diameter", "8", "17"),
            KindDimension.usual("outside_diameter", "8.5", "18"),
            KindDimension.usual("width", "0.5", "12"),
            KindDimension.usual("thickness", "0.1", "1"),
        ),
        METALS,
    ),
    _part(
        "jewel",
        "Jewel or end ornament",
        "outside_diameter",
        (
            KindDimension.usual("outside_diameter", "2", "12"),
            KindDimension.usual("length", "1.5", "15"),
            *_THREAD_DIMENSIONS,
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
)

_FILLER: Final = (
    _part(
        "lever",
        "Lever",
        "length",
        (
            KindDimension.usual("length", "15", "40"),
            KindDimension.usual("width", "1", "4"),
            KindDimension.usual("thickness", "0.5", "3"),
        ),
        METALS,
    ),
    _part(
        "lever_box",
        "Lever box, ring or pin",
        "length",
        (
            KindDimension.usual("length", "2", "40"),
            KindDimension.usual("width", "1", "6"),
            KindDimension.usual("outside_diameter", "5", "13"),  # of a ring
            KindDimension.usual("wire_diameter", "0.4", "1.5"),
        ),
        METALS,
    ),
    _part(
        "button",
        "Button",
        "outside_diameter",
        (
            KindDimension.usual("outside_diameter", "2", "9"),
            KindDimension.usual("inside_diameter", "1", "8"),
            KindDimension.usual("length", "2", "15"),
        ),
        METALS,
    ),
    _part(
        "blind_cap",
        "Blind cap",
        "thread_diameter",
        (
            *_THREAD_DIMENSIONS,
            KindDimension.usual("outside_diameter", "5", "14"),
            KindDimension.usual("inside_diameter", "3", "12"),
            KindDimension.usual("length", "4", "30"),
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "filler_unit",
        "Filler unit",
        "outside_diameter",
        (
            KindDimension.usual("outside_diameter", "4", "13"),
            KindDimension.usual("length", "15", "90"),
            *_THREAD_DIMENSIONS,
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "sac_guard",
        "Sac guard",
        "inside_diameter",
        (
            KindDimension.usual("inside_diameter", "5", "11"),
            KindDimension.usual("outside_diameter", "5.5", "12"),
            KindDimension.usual("length", "20", "80"),
        ),
        METALS,
    ),
    _part(
        "rod",
        "Plunger or shut-off rod",
        "outside_diameter",
        (
            KindDimension.usual("outside_diameter", "0.8", "4"),
            KindDimension.usual("length", "30", "110"),
            *_THREAD_DIMENSIONS,
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
    _part(
        "converter_seal",
        "Converter seal",
        "inside_diameter",  # the nozzle it goes over, less its grip
        (
            KindDimension.usual("inside_diameter", "1", "6"),
            KindDimension.usual("outside_diameter", "2", "9"),
            KindDimension.usual("length", "0.5", "8"),
        ),
        ("nbr", "epdm", "silicone", "fkm", "moulded plastic"),
    ),
    _part(
        "barrel",
        "Barrel",
        "inside_diameter",  # of the mouth that takes the section
        (
            KindDimension.usual("inside_diameter", "5", "13"),
            KindDimension.usual("outside_diameter", "8", "17"),
            KindDimension.usual("length", "45", "110"),
            KindDimension.usual("depth", "30", "105"),
            *_THREAD_DIMENSIONS,
        ),
        (*PLASTICS, *METALS),
        (*_THREAD, _COLOUR),
    ),
)

KINDS: Final = (*_WRITING_END, *_CAP, *_FILLER)
