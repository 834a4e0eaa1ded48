"""Which bush fills a worn lever pin hole and lets the pin turn.

The hole is drilled round first. The bush is pressed in, so it is larger than the hole by the
press; its own hole is larger than the pin by the running clearance. Every length is a whole
number of nanometres, so nothing here is ever rounded.
"""

from __future__ import annotations

from dataclasses import dataclass

from sparewell.plugin import (
    COMMON_PRACTICE,
    Answer,
    Calculator,
    Envelope,
    Field,
    ImpossibleInput,
    Inputs,
    Judgement,
    Output,
    OutputType,
    Piece,
    Purchase,
    Range,
    Verdict,
    length_setting,
    length_text,
    parse_length,
)
from sparewell_bushings.drawing import draw

HOLE = Field(
    "hole_diameter",
    "hole diameter",
    help="the lever pin hole after it was drilled round",
    how="largest drill shank that goes in",
    required=True,
    measured=True,
    plausible=(parse_length("0.8"), parse_length("4")),
)
PIN = Field(
    "pin_diameter",
    "pin diameter",
    how="calliper, at the middle of the pin",
    required=True,
    measured=True,
    plausible=(parse_length("0.4"), parse_length("2")),
)
WALL = Field(
    "wall_thickness",
    "wall thickness",
    help="of the barrel beside the lever slot; it is the length of the bush",
    required=True,
    measured=True,
    plausible=(parse_length("0.8"), parse_length("5")),
)

PRESS = length_setting(
    "bushing.press",
    "how much larger than its hole a bush is",
    "0.02",
    most="0.1",
)
RUNNING_CLEARANCE = length_setting(
    "bushing.running_clearance",
    "how much larger than its pin a bush is, inside",
    "0.03",
    most="0.2",
)
LEAST_WALL = length_setting(
    "bushing.least_wall",
    "the thinnest wall that can be turned and pressed",
    "0.2",
    least="0.01",
    most="1",
)


@dataclass(frozen=True)
class Bush:
    """The bush that is wanted, in nanometres."""

    outside: int
    inside: int
    length: int
    press: int
    clearance: int

    @property
    def wall(self) -> int:
        """The wall, half of what is left of the diameter."""
        return (self.outside - self.inside) // 2


def bush_of(inputs: Inputs) -> Bush:
    """Return the bush that the readings ask for. Raises :class:`ImpossibleInput`."""
    hole, pin = inputs.length(HOLE.name) or 0, inputs.length(PIN.name) or 0
    press = inputs.setting_length(PRESS.name)
    clearance = inputs.setting_length(RUNNING_CLEARANCE.name)
    bush = Bush(hole + press, pin + clearance, inputs.length(WALL.name) or 0, press, clearance)
    if bush.inside >= bush.outside:
        sentence = (
            f"a pin of {length_text(pin)} leaves no bush in a hole of {length_text(hole)}: "
            "drill the hole larger, or fit a thinner pin"
        )
        raise ImpossibleInput((PIN.name, sentence))
    return bush


def compute(inputs: Inputs) -> Answer:
    """Answer with the bush to turn or to look for."""
    bush = bush_of(inputs)
    least = inputs.setting_length(LEAST_WALL.name)
    warnings = []
    if bush.wall < least:
        warnings.append(
            f"a wall of {length_text(bush.wall)} is thinner than {length_text(least)}: "
            "drill the hole larger"
        )
    return Answer(
        result={
            "outside_diameter": bush.outside,
            "inside_diameter": bush.inside,
            "length": bush.length,
            "wall": bush.wall,
            "working": [
                f"outside: hole + {length_text(bush.press)} = {length_text(bush.outside)}",
                f"inside: pin + {length_text(bush.clearance)} = {length_text(bush.inside)}",
            ],
        },
        warnings=tuple(warnings),
        cautions=("Press a bush cold: heat softens the barrel around it.",),
    )


def envelope(inputs: Inputs) -> Envelope:
    """Return what would fit: from a bush that just holds to one with twice the press."""
    bush = bush_of(inputs)
    return Envelope(
        kind="bushing",
        ideal=bush.outside,
        # A bush whose bore nobody measured would be outside any range of bores: judge looks at it.
        ranges={"outside_diameter": Range(bush.outside - bush.press, bush.outside + bush.press)},
        to_buy=(
            Purchase(
                f"brass tube, {length_text(bush.outside)} outside, {length_text(bush.inside)} bore",
                "the pin turns freely in it",
            ),
        ),
    )


def judge(inputs: Inputs, piece: Piece) -> Judgement:
    """Return the verdict on one bush in hand."""
    bush = bush_of(inputs)
    outside = piece.dimensions.get("outside_diameter")
    inside = piece.dimensions.get("inside_diameter")
    if outside is None or inside is None:
        return Judgement(Verdict.TRY_IN, "not every diameter is known: measure it")
    hole, pin = bush.outside - bush.press, bush.inside - bush.clearance
    margins = {"press": outside - hole, "clearance": inside - pin}
    if not 0 <= outside - hole <= 2 * bush.press:
        return Judgement(
            Verdict.REFUSED, f"its press would be {length_text(outside - hole)}", margins
        )
    if inside < pin:
        return Judgement(Verdict.REFUSED, "the pin does not go in", margins)
    if inside < bush.inside:
        return Judgement(Verdict.TIGHT, "ream it before it is pressed in", margins)
    return Judgement(Verdict.FITS, "it holds, and the pin turns in it", margins)


def drawing(inputs: Inputs) -> str:
    """Return the bush and its pin, to scale."""
    bush = bush_of(inputs)
    return draw(bush.outside, bush.inside, bush.inside - bush.clearance)


BUSHING = Calculator(
    name="bushing",
    title="Lever pin bush",
    help="Which bush fills a worn lever pin hole, and lets the pin turn.",
    inputs=(HOLE, PIN, WALL),
    outputs=(
        Output("outside_diameter", OutputType.LENGTH, "the bush, outside"),
        Output("inside_diameter", OutputType.LENGTH, "the bush, inside"),
        Output("length", OutputType.LENGTH, "the bush, along the pin"),
        Output("wall", OutputType.LENGTH, "the wall that is left"),
        Output("working", OutputType.TEXT, "how the diameters came about", many=True),
    ),
    compute=compute,
    sources=(COMMON_PRACTICE,),
    settings=(PRESS, RUNNING_CLEARANCE, LEAST_WALL),
    kind="bushing",
    envelope=envelope,
    judge=judge,
    drawing=drawing,
)
