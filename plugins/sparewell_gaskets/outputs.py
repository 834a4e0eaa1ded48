"""What the calculators answer, member by member."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import Output, OutputType
from sparewell_gaskets.inputs import WasherMode

LAYOUTS: Final = ("square", "staggered")
ROWS_ALONG: Final = ("length", "width")

_LENGTH: Final = OutputType.LENGTH
_NUMBER: Final = OutputType.NUMBER
_INTEGER: Final = OutputType.INTEGER
_TEXT: Final = OutputType.TEXT
_GROUP: Final = OutputType.GROUP

_NEAR: Final = (
    Output("diameter", _LENGTH, "Its diameter."),
    Output("called", _TEXT, "What it is called: in 64ths of an inch where it is one, else mm."),
    Output("difference", _LENGTH, "How much larger it is than what is wanted; less is negative."),
    Output(
        "near_enough",
        OutputType.FLAG,
        "Whether that is within the setting, and what it cuts would fit: what is a little too "
        "small may leak where what is a little too large seals.",
    ),
)

_SIZE: Final = (
    Output("mode", _TEXT, "Which case it is.", choices=tuple(WasherMode)),
    Output("outside_diameter", _LENGTH, "Outside diameter to cut."),
    Output("inside_diameter", _LENGTH, "Hole to cut; null: a disc without one.", nullable=True),
    Output(
        "thickness", _LENGTH, "Thickness; null: nothing given asks for one in particular.",
        nullable=True,
    ),
    Output(
        "stack",
        _GROUP,
        "How many of a packing fill the cavity; null without its depth.",
        nullable=True,
        members=(
            Output("count", _INTEGER, "How many."),
            Output("height", _LENGTH, "How high they stand together."),
            Output("proud", _LENGTH, "How far over the cavity; negative: room is left."),
        ),
    ),
    Output(
        "outside_punch",
        _GROUP,
        "The workshop's punch nearest to the outside; null where none is listed.",
        nullable=True,
        members=_NEAR,
    ),
    Output(
        "inside_punch",
        _GROUP,
        "The workshop's punch nearest to the hole; null where none is listed or there is no hole.",
        nullable=True,
        members=_NEAR,
    ),
    Output(
        "known_size",
        _GROUP,
        "The nearest of the published head washers; null for other washers.",
        nullable=True,
        members=_NEAR,
    ),
)  # fmt: skip

_SHEET: Final = (
    Output("count_square", _INTEGER, "How many in columns and rows.", nullable=True),
    Output("count_staggered", _INTEGER, "How many in staggered rows.", nullable=True),
    Output(
        "best",
        _TEXT,
        "The layout that gives more; equal: square, which is easier to mark out.",
        nullable=True,
        choices=LAYOUTS,
    ),
    Output("best_count", _INTEGER, "How many it gives.", nullable=True),
    Output(
        "rows_along", _TEXT, "Which way its rows run on the sheet.", nullable=True,
        choices=ROWS_ALONG,
    ),
    Output("waste_percent", _NUMBER, "The share that becomes no washer.", nullable=True),
)  # fmt: skip

OUTPUTS: Final = (*_SIZE, *_SHEET, Output("working", _TEXT, "Every step.", many=True))
