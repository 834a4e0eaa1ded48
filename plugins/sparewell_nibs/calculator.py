"""The calculator: from the width of a line to the sets of grades it could be called."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from sparewell.plugin import (
    NANOMETRES_PER_MILLIMETRE,
    Answer,
    Calculator,
    Field,
    ImpossibleInput,
    Inputs,
    Output,
    OutputType,
    length_text,
)
from sparewell_nibs.drawing import drawing_of
from sparewell_nibs.widths import (
    COMMON_PRACTICE,
    JAPANESE,
    JAPANESE_SOURCE,
    NAMES,
    SETTINGS,
    Grade,
    between,
    western_of,
)

SOURCES: Final = (
    f"Japanese grades: {JAPANESE_SOURCE}.",
    f"Western grades: {COMMON_PRACTICE}.",
)

INPUTS: Final = (
    Field(
        name="width",
        title="Width of the line",
        help="The mean of three to five places; with its spread, where one was noted.",
        required=True,
        measured=True,
        how=(
            "A line drawn without pressure on the paper and with the ink you note down; a reticle "
            "or a scan, at three to five places."
        ),
        maximum=20 * NANOMETRES_PER_MILLIMETRE,
        plausible=(150_000, 3_000_000),
    ),
)

_RANGE: Final = (
    Output("grade", OutputType.TEXT, "The grade."),
    Output("name", OutputType.TEXT, "The grade in words."),
    Output("low", OutputType.LENGTH, "The narrowest line called so."),
    Output("high", OutputType.LENGTH, "The widest; null has no bound.", nullable=True),
)

OUTPUTS: Final = (
    Output("width", OutputType.LENGTH, "The width asked about."),
    Output("spread", OutputType.LENGTH, "How far it may be off, as noted; else nothing."),
    Output("western", OutputType.TEXT, "Every Western grade it could be called.", many=True),
    Output("japanese", OutputType.TEXT, "Every Japanese grade it could be called.", many=True),
    Output("western_ranges", OutputType.GROUP, "Those grades.", many=True, members=_RANGE),
    Output("japanese_ranges", OutputType.GROUP, "Those grades.", many=True, members=_RANGE),
    Output("notes", OutputType.TEXT, "What the sets mean and do not mean.", many=True),
)

NOTES: Final = (
    "There is no standard of grades: a width is called by any of the set, never by one of it.",
    "Paper, ink, angle and pressure change the line; two nibs of one label can differ.",
    "The Japanese figures hold at a load of 50 g and 60° between pen and paper.",
    (
        "A stub or an italic nib has two widths: ask about its broad stroke, and note the narrow "
        "one beside it."
    ),
)


def compute(inputs: Inputs) -> Answer:
    """Answer which grades a width could be called."""
    width = _width(inputs)
    spread = inputs.spread("width") or 0
    if spread >= width:
        raise ImpossibleInput(
            ("width", f"a spread of {length_text(spread)} leaves nothing of {length_text(width)}")
        )
    all_western = western_of(inputs)
    western = [grade for grade in all_western if grade.takes(width - spread, width + spread)]
    japanese = [grade for grade in JAPANESE if grade.takes(width - spread, width + spread)]
    return Answer(
        {
            "width": width,
            "spread": spread,
            "western": [grade.code for grade in western],
            "japanese": [grade.code for grade in japanese],
            "western_ranges": _ranges(western),
            "japanese_ranges": _ranges(japanese),
            "notes": list(NOTES),
        },
        warnings=(
            *_outside("Western", western, all_western, width),
            *_outside("Japanese", japanese, JAPANESE, width),
            *_crossed(all_western),
        ),
    )


def drawing(inputs: Inputs) -> str:
    """Return the grades as bands on a scale, with the width across them."""
    return drawing_of(
        _width(inputs),
        inputs.spread("width") or 0,
        (("Western", western_of(inputs)), ("Japanese", JAPANESE)),
    )


def _width(inputs: Inputs) -> int:
    """Return the width, which is never left out."""
    width = inputs.length("width")
    if width is None:
        raise ImpossibleInput(("width", "give the width of the line"))
    return width


def _ranges(grades: Sequence[Grade]) -> list[Mapping[str, object]]:
    """Return grades as the result carries them."""
    return [
        {
            "grade": grade.code,
            "name": NAMES[grade.code],
            "low": grade.low_nanometres,
            "high": grade.high_nanometres,
        }
        for grade in grades
    ]


def _outside(
    which: str, found: Sequence[Grade], grades: Sequence[Grade], width: int
) -> Iterator[str]:
    """Yield between which grades a width lies that none of them takes."""
    if found:
        return
    below, above = between(grades, width)
    if below is None and above is None:
        place = "all of them are set to take nothing"
    elif below is None:
        place = f"it is finer than {above.code if above else ''}"
    elif above is None:
        place = f"it is broader than {below.code}"
    else:
        place = f"it lies between {below.code} and {above.code}"
    yield f"No {which} grade takes {length_text(width)}: {place}."


def _crossed(grades: Sequence[Grade]) -> Iterator[str]:
    """Yield each grade whose bounds the workshop has set crosswise."""
    for grade in grades:
        if grade.high_nanometres is not None and grade.high_nanometres < grade.low_nanometres:
            yield (
                f"The settings of Western {grade.code} are crossed: its widest line of "
                f"{length_text(grade.high_nanometres)} is narrower than its narrowest of "
                f"{length_text(grade.low_nanometres)}."
            )


LINE_WIDTH_CALCULATOR: Final = Calculator(
    name="line_width",
    title="Line width",
    help="Which Western and which Japanese grades a measured line could be called.",
    inputs=INPUTS,
    outputs=OUTPUTS,
    headline=("western", "japanese"),
    compute=compute,
    sources=SOURCES,
    settings=SETTINGS,
    drawing=drawing,
)
