"""The calculator `pressure_bar`: how long and how wide a bar must be, and its drawing."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from sparewell.plugin import (
    Answer,
    Calculator,
    Drawing,
    Inputs,
    Look,
    Output,
    OutputType,
    in_millimetres,
    largest_scale,
    length_text,
    millimetres_text,
    number_text,
)
from sparewell_springs.bar_fit import (
    KIND_WORDS,
    TOO_LONG,
    TOO_SHORT,
    bar_envelope,
    bar_judge,
    bar_settles,
)
from sparewell_springs.bar_inputs import BAR_INPUTS
from sparewell_springs.bar_sizing import WantedBar, bar_of, height_in_place
from sparewell_springs.kinds import BAR_KINDS, PRESSURE_BAR
from sparewell_springs.settings import BAR_SETTINGS

SOURCES: Final = (
    "J-bar and button bar by width and length, cut to depth: published repair guides.",
    (
        "A button bar too long holds the sac squeezed, too short does not bow; gaps, shares of the "
        "bore: common practice, no source."
    ),
    "Height of a bar that lies as a chord: derived here: plane geometry.",
)

BAR_OUTPUTS: Final = (
    Output("bar_kind", OutputType.TEXT, "The kind of bar.", choices=BAR_KINDS),
    Output(
        "cut_length",
        OutputType.LENGTH,
        "Length to cut to; with a tenon that was not measured it is only about right.",
    ),
    Output("tenon_measured", OutputType.FLAG, "Whether the tenon was measured."),
    Output("longest", OutputType.LENGTH, "What the barrel takes with nothing screwed in."),
    Output("width", OutputType.LENGTH, "The best width: the old bar's, else a share of the bore."),
    Output("narrowest", OutputType.LENGTH, "The least width."),
    Output("widest", OutputType.LENGTH, "The most width."),
    Output(
        "height_in_place",
        OutputType.LENGTH,
        "How far the old bar stands off the wall, lying as a chord; null without its measures.",
        nullable=True,
    ),
    Output("if_too_long", OutputType.TEXT, "What a bar does that is too long."),
    Output("if_too_short", OutputType.TEXT, "What a bar does that is too short."),
    Output("working", OutputType.TEXT, "Every step with its numbers.", many=True),
)

_CAUTIONS: Final = (
    (
        "Cut spring steel flies and its edges are sharp: wear eye protection, hold both sides of "
        "the cut, and round the end so that it does not pierce the sac."
    ),
    "Never pull an old J-bar out by its long end: it breaks, and the short end stays in.",
    "Never heat or solder a bar: it loses its temper.",
    "The safety sheets of the products in use come before anything said here.",
)
_OF_KIND: Final = {
    "j_bar": "Set the crook's spring anew before it goes in. A sprung J-bar in place of a slide "
    "bar can overload the lever box and break it: sources disagree, so ask first.",
    "button_bar": "Button and bar come out from the tail first: unscrewing the section with the "
    "bar in place winds up the sac.",
}


def compute(inputs: Inputs) -> Answer:
    """Answer which bar the barrel takes; raise ImpossibleInput where readings contradict."""
    bar = bar_of(inputs)
    width, thickness = inputs.length("bar_width"), inputs.length("bar_thickness")
    height = None
    if width is not None and thickness is not None:
        height = height_in_place(bar.bore_nanometres, width=width, thickness=thickness)
    result = {
        "bar_kind": bar.kind,
        "cut_length": bar.cut_nanometres,
        "tenon_measured": bar.tenon_given,
        "longest": bar.depth_nanometres,
        "width": bar.width_nanometres,
        "narrowest": bar.narrowest_nanometres,
        "widest": bar.widest_nanometres,
        "height_in_place": height,
        "if_too_long": f"Too long, {TOO_LONG[bar.kind]}.",
        "if_too_short": f"Too short, {TOO_SHORT[bar.kind]}.",
        "working": list(_working(inputs, bar, height)),
    }
    return Answer(
        result=result,
        warnings=tuple(_warnings(inputs, bar)),
        cautions=(_OF_KIND[bar.kind], *_CAUTIONS),
    )


def _warnings(inputs: Inputs, bar: WantedBar) -> Iterator[str]:
    """Yield what was assumed, and what is unusual."""
    if not bar.tenon_given:
        yield (
            f"The tenon was not measured: {length_text(bar.tenon_nanometres)} is assumed. Measure "
            "it before anything is cut; a bar cut too short is lost."
        )
    if not bar.kind_given:
        yield f"No kind of bar was named: a {KIND_WORDS[bar.kind]} is assumed."
    if not bar.is_j and "slot_width" in inputs:
        yield "A slot is of a lever filler, and a button bar was asked for."
    old = inputs.length("bar_width")
    most = bar.bore_nanometres * inputs.setting_number("pressure_bar.width_most") / 100
    least = bar.bore_nanometres * inputs.setting_number("pressure_bar.width_least") / 100
    if old is not None and not least <= old <= most:
        yield (
            f"{length_text(old)} is unusual in a bore of {length_text(bar.bore_nanometres)}, "
            f"where {millimetres_text(least)} to {millimetres_text(most)} are usual: is it the "
            "bar of this pen?"
        )
    thickness = inputs.length("bar_thickness")
    if thickness is not None and old is None:
        yield "bar_thickness is not used without bar_width."


def _working(inputs: Inputs, bar: WantedBar, height: int | None) -> Iterator[str]:
    """Yield every step."""
    how = "as measured" if bar.tenon_given else "assumed"
    gap = "gap before the section" if bar.is_j else "play at rest"
    yield (
        f"Length: depth {length_text(bar.depth_nanometres)} - tenon "
        f"{length_text(bar.tenon_nanometres)} ({how}) - {length_text(bar.gap_nanometres)} {gap} = "
        f"{length_text(bar.cut_nanometres)}. A longer one is cut, a shorter one does not do."
    )
    if bar.like:
        yield f"Width: {millimetres_text(bar.width_nanometres)}, from the old bar."
    else:
        share = number_text(inputs.setting_number("pressure_bar.width_best"), 1)
        yield (
            f"Width: {share} % of a bore of {length_text(bar.bore_nanometres)}, within the limits "
            f"= {millimetres_text(bar.width_nanometres)}."
        )
    yield (
        f"Limits: {millimetres_text(bar.narrowest_nanometres)} to "
        f"{millimetres_text(bar.widest_nanometres)}."
    )
    if height is not None:
        yield (
            f"In place the old bar lies as a chord and stands {millimetres_text(height)} off the "
            "wall: give that as bar_height when the sac is sized."
        )


def drawing(inputs: Inputs) -> str:
    """Return the barrel cut open, with tenon and bar, to scale; or raise ImpossibleInput."""
    bar = bar_of(inputs)
    bore, depth = in_millimetres(bar.bore_nanometres), in_millimetres(bar.depth_nanometres)
    tenon, cut = in_millimetres(bar.tenon_nanometres), in_millimetres(bar.cut_nanometres)
    width = in_millimetres(bar.width_nanometres)
    none = Fraction(0)
    picture = Drawing(largest_scale(depth))
    picture.rectangle(Look("barrel", "#efe9dd", "#5b5348"), none, none, depth, bore)
    picture.rectangle(Look("tenon", "#c3d3dc", "#1d4355"), none, none, tenon, bore)
    picture.rectangle(
        Look("bar", "#8d97a0", "#39424a"), depth - cut, (bore - width) / 2, cut, width
    )
    captions = [
        (
            f"{KIND_WORDS[bar.kind]} {millimetres_text(bar.width_nanometres)} wide, cut to "
            f"{millimetres_text(bar.cut_nanometres)}"
        ),
        f"Barrel {length_text(bar.depth_nanometres)} deep, bore {length_text(bar.bore_nanometres)}",
        (
            f"Tenon {length_text(bar.tenon_nanometres)}{'' if bar.tenon_given else ' (assumed)'}, "
            f"then {length_text(bar.gap_nanometres)} of room"
        ),
    ]
    return picture.captioned(captions, depth, bore)


PRESSURE_BAR_CALCULATOR: Final = Calculator(
    name=PRESSURE_BAR,
    title="Pressure bar",
    help="Which J-bar or button bar a barrel takes: its width, and the length it is cut to.",
    inputs=BAR_INPUTS,
    outputs=BAR_OUTPUTS,
    headline=("cut_length", "width"),
    asks_first=("barrel_depth", "barrel_bore", "tenon_length"),
    compute=compute,
    sources=SOURCES,
    settings=BAR_SETTINGS,
    kind=PRESSURE_BAR,
    envelope=bar_envelope,
    judge=bar_judge,
    settles=bar_settles,
    drawing=drawing,
)
