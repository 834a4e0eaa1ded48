"""What the calculator answers, member by member."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import Output, OutputType
from sparewell_sacs.limits import SacLimit, SizingOutcome
from sparewell_sacs.settings import BAR_RULES
from sparewell_sacs.stretch import Grip

ALTERNATIVES: Final = (
    "check_the_barrel",
    "sleeve_the_nipple",
    "necked_sac",
    "whip_with_thread",
    "tapered_sac",
    "lower_bar",
    "thinner_wall",
    "measure_again",
)

_NUMBER: Final = OutputType.NUMBER
_TEXT: Final = OutputType.TEXT
_LENGTH: Final = OutputType.LENGTH
_GROUP: Final = OutputType.GROUP

_SIZE: Final = Output("size", OutputType.INTEGER, "The whole size.")
_HALF_SIZE: Final = Output("half_size", _NUMBER, "The size where half sizes are stocked.")
_RECOMMENDED: Final = Output(
    "recommended",
    _NUMBER,
    "What to take, in halves: the size, or the half above it where the size would be stretched "
    "more than is good and the barrel takes the half; what was tried in, where it was.",
)
_WHY: Final = Output("why", _TEXT, "The reason, in a sentence.")
_SIZE_OF_ENTRY: Final = Output("size", _NUMBER, "The sac number; it may be a half.")

_STRETCH_MEMBERS: Final = (
    Output("min", _NUMBER, "With the thinnest usual wall.", nullable=True),
    Output("nominal", _NUMBER, "With an ordinary wall, or the wall given.", nullable=True),
    Output("max", _NUMBER, "With the thickest usual wall.", nullable=True),
)

_SIZED: Final = (
    _SIZE_OF_ENTRY,
    Output("stretch_percent", _NUMBER, "How far it is stretched, with an ordinary wall."),
    _WHY,
)

_LIMITS: Final = (
    Output(
        "barrel_limit",
        _NUMBER,
        "What the barrel takes, in 64ths of an inch: bore less bar and clearance, to 0.01.",
    ),
    Output("nipple_limit", _NUMBER, "The nipple in 64ths of an inch, to 0.01."),
    _SIZE,
    _HALF_SIZE,
    _RECOMMENDED,
    Output(
        "limited_by",
        _TEXT,
        "What the size rests on. over_nipple: the sac on the nipple does not enter the bore.",
        choices=tuple(SacLimit),
    ),
    Output("outcome", _TEXT, "How barrel and nipple agree.", choices=tuple(SizingOutcome)),
    Output(
        "stretch_percent",
        _GROUP,
        "How far the whole size is stretched over the nipple; null where no hole is left.",
        members=_STRETCH_MEMBERS,
    ),
    Output(
        "half_size_stretch_percent",
        _GROUP,
        "The same for the half size.",
        members=_STRETCH_MEMBERS,
    ),
    Output("grip", _TEXT, "What the nominal stretch does.", choices=tuple(Grip)),
    Output(
        "over_nipple_diameter",
        _LENGTH,
        "The nipple with the size recommended over it, its wall thinned.",
    ),
)

_USED: Final = (
    Output("material", _TEXT, "The material reckoned with."),
    Output("bar_rule_used", _TEXT, "How often the bar came off.", choices=BAR_RULES),
    Output(
        "bar_height_used", _LENGTH, "The height that came off; null with no bar.", nullable=True
    ),
    Output("clearance_used", _LENGTH, "The clearance that came off the diameter."),
    Output(
        "other_clearance",
        _GROUP,
        "What no clearance would give; where none was used, the whole of it; where one was "
        "asked for, the default.",
        members=(
            Output("clearance", _LENGTH, "The other clearance."),
            Output("barrel_limit", _NUMBER, "What the barrel takes then; negative when filled."),
            Output("size", OutputType.INTEGER, "The whole size then.", nullable=True),
            Output("half_size", _NUMBER, "The half size then.", nullable=True),
        ),
    ),
    Output(
        "other_bar_rule",
        _GROUP,
        "What the other rule for the bar would give; null with no bar.",
        nullable=True,
        members=(
            Output("bar_rule", _TEXT, "The other rule.", choices=BAR_RULES),
            Output("barrel_limit", _NUMBER, "What the barrel takes then; negative when filled."),
            Output("size", OutputType.INTEGER, "The whole size then.", nullable=True),
            Output("half_size", _NUMBER, "The half size then.", nullable=True),
        ),
    ),
)

_LENGTHS: Final = (
    Output(
        "cut_length",
        _LENGTH,
        "Depth less tenon and end gap, in whole millimetres, rounded down.",
        nullable=True,
    ),
    Output(
        "capacity_ml",
        _NUMBER,
        "Volume of the whole size's hole; an upper figure while the tenon is unknown.",
        nullable=True,
    ),
    Output(
        "expected_fill_ml",
        _GROUP,
        "What of it is likely to fill.",
        nullable=True,
        members=(
            Output("low", _NUMBER, "A poor fill."),
            Output("high", _NUMBER, "A good fill."),
        ),
    ),
)

_ADVICE: Final = (
    Output("substitutes", _GROUP, "Smaller sizes that also do.", many=True, members=_SIZED),
    Output(
        "also_possible",
        _GROUP,
        "Sizes above what is recommended that the barrel takes and that still grip.",
        many=True,
        members=_SIZED,
    ),
    Output(
        "alternatives",
        _GROUP,
        "Other ways than a straight sac.",
        many=True,
        members=(
            Output("do", _TEXT, "What to do.", choices=ALTERNATIVES),
            Output("size", _NUMBER, "The sac number then.", nullable=True),
            _WHY,
        ),
    ),
    Output(
        "sensitivity",
        _GROUP,
        "What a small error of each reading would do.",
        many=True,
        members=(
            Output("reading", _TEXT, "The name of the input."),
            Output("change", _LENGTH, "How far it is varied: its spread, or the setting."),
            Output(
                "less",
                _GROUP,
                "The answer when it is less; null when nothing would go in.",
                nullable=True,
                members=(_SIZE, _HALF_SIZE),
            ),
            Output(
                "more",
                _GROUP,
                "The answer when it is more; null when nothing would go in.",
                nullable=True,
                members=(_SIZE, _HALF_SIZE),
            ),
            Output("moves", OutputType.FLAG, "Whether the half size changes."),
            _WHY,
        ),
    ),
    Output("working", _TEXT, "Every step with its numbers.", many=True),
)

OUTPUTS: Final = (*_LIMITS, *_USED, *_LENGTHS, *_ADVICE)
