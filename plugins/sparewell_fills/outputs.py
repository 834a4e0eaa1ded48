"""What the calculator answers, member by member."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import Output, OutputType
from sparewell_fills.checks import Check
from sparewell_fills.filling import FillLimit
from sparewell_fills.inputs import System
from sparewell_fills.weighing import WeighingVerdict

_NUMBER: Final = OutputType.NUMBER
_TEXT: Final = OutputType.TEXT
_GROUP: Final = OutputType.GROUP

_LOW_AND_HIGH: Final = (
    Output("low", _NUMBER, "A poor but sound fill, in millilitres."),
    Output("high", _NUMBER, "The best fill, in millilitres."),
)

OUTPUTS: Final = (
    Output("system", _TEXT, "The filling system.", choices=tuple(System)),
    Output("fill_ml", _GROUP, "What a sound filler takes.", members=_LOW_AND_HIGH),
    Output("limited_by", _TEXT, "What limits the best fill.", choices=tuple(FillLimit)),
    Output("why", _TEXT, "That limit in a sentence, with its numbers."),
    Output("sac_volume_ml", _NUMBER, "What the sac holds.", nullable=True),
    Output("swept_volume_ml", _NUMBER, "What one stroke sweeps.", nullable=True),
    Output("air_volume_ml", _NUMBER, "The air round the sac, plunger out.", nullable=True),
    Output(
        "collapse_ml",
        _NUMBER,
        "Pneumatic: by how much a sac without end would collapse at best.",
        nullable=True,
    ),
    Output(
        "stiffness_kpa",
        _GROUP,
        "Pneumatic: how stiff the sac was taken to be.",
        nullable=True,
        members=(
            Output("low", _NUMBER, "At its softest, in kilopascals."),
            Output("high", _NUMBER, "At its stiffest, in kilopascals."),
        ),
    ),
    Output("weighed_ml", _NUMBER, "The fill found by weight.", nullable=True),
    Output("weighing_error_ml", _NUMBER, "How far that may be off.", nullable=True),
    Output(
        "compared_with_ml",
        _GROUP,
        "The range it is held against: with what nib and feed hold, where the pen was dry.",
        nullable=True,
        members=_LOW_AND_HIGH,
    ),
    Output(
        "difference_ml",
        _NUMBER,
        "How far outside that range: negative is too little, zero is inside.",
        nullable=True,
    ),
    Output(
        "verdict",
        _TEXT,
        "What the weighed fill says. inside_error: the weighing alone may be the difference.",
        nullable=True,
        choices=tuple(WeighingVerdict),
    ),
    Output(
        "checks",
        _GROUP,
        "What to check, in this order; empty while nothing is told apart.",
        many=True,
        members=(
            Output("order", OutputType.INTEGER, "Its place, from 1."),
            Output("check", _TEXT, "What to look at.", choices=tuple(Check)),
            Output("why", _TEXT, "How to look, and why."),
        ),
    ),
    Output("explained_by", _TEXT, "What a single cause would have to be, in numbers.", many=True),
    Output("working", _TEXT, "Every step with its numbers.", many=True),
)
