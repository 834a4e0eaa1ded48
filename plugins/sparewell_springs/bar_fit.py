"""Which bars in hand would do: wide enough, narrow enough, and never too short."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from sparewell.plugin import (
    Envelope,
    Inputs,
    Judgement,
    Piece,
    Purchase,
    Range,
    Verdict,
    millimetres_text,
)
from sparewell_springs.bar_sizing import WantedBar, bar_of, height_in_place
from sparewell_springs.kinds import PRESSURE_BAR

_FIVE_MILLIMETRES: Final = 5_000_000

TOO_LONG: Final = {
    "j_bar": "it presses on the section, lifts off the wall and jams the lever",
    "button_bar": "it stays bowed at rest and holds the sac squeezed",
}
TOO_SHORT: Final = {
    "j_bar": "its end leaves part of the sac unpressed, and the lever may slip off it",
    "button_bar": "it does not bow when the button is pressed, and the pen does not fill",
}
KIND_WORDS: Final = {"j_bar": "J-bar", "button_bar": "button bar"}


def bar_envelope(inputs: Inputs) -> Envelope:
    """Return the box to search in, and what to buy where nothing is in hand."""
    bar = bar_of(inputs)
    return Envelope(
        kind=PRESSURE_BAR,
        ideal=bar.width_nanometres,
        ranges={
            "width": Range(low=bar.narrowest_nanometres, high=bar.widest_nanometres),
            "length": Range(low=bar.shortest_nanometres),
        },
        to_buy=(
            Purchase(
                ask_for=(
                    f"a {KIND_WORDS[bar.kind]} {millimetres_text(bar.width_nanometres)} wide "
                    f"({millimetres_text(bar.narrowest_nanometres)} to "
                    f"{millimetres_text(bar.widest_nanometres)}), at least "
                    f"{millimetres_text(bar.cut_nanometres)} long"
                ),
                check_on_arrival=(
                    "measure width and length; no rust; that it springs back from a gentle bend"
                ),
            ),
        ),
    )


def bar_judge(inputs: Inputs, piece: Piece) -> Judgement:
    """Return the verdict on one piece; a longer one is cut, and what is cut away is said."""
    if piece.kind != PRESSURE_BAR:
        return Judgement(Verdict.REFUSED, f"a {piece.kind} is not a pressure bar")
    bar = bar_of(inputs)
    width, length = piece.dimensions.get("width"), piece.dimensions.get("length")
    unknown = [name for name, value in (("width", width), ("length", length)) if value is None]
    if width is None or length is None:
        return Judgement(
            Verdict.REFUSED, f"its {' and its '.join(unknown)} is not known: measure the bag"
        )
    margins = _margins(bar, piece, width, length)
    known_kind = piece.attributes.get("bar_kind")
    against = list(_against(bar, width, length))
    if known_kind not in (None, bar.kind):
        against.append(f"it is a {KIND_WORDS.get(str(known_kind), known_kind)}")
    if against:
        return Judgement(Verdict.REFUSED, "; ".join(against), margins)
    verdict, words = _of_width(inputs, bar, width)
    said = [words, *_of_length(bar, length), *_of_height(bar, piece, width)]
    if not bar.tenon_given:
        said.append("the tenon was not measured, so try it in before it is cut")
        if verdict is Verdict.FITS:
            verdict = Verdict.TRY_IN
    if length < bar.cut_nanometres and verdict is Verdict.FITS:
        verdict = Verdict.TRY_IN
    if known_kind is None:
        said.append(f"see that it is a {KIND_WORDS[bar.kind]}: its size does not tell")
    cut_away = length - bar.cut_nanometres
    return Judgement(verdict, "; ".join(said), margins, max(0, cut_away) // _FIVE_MILLIMETRES)


def bar_settles(inputs: Inputs, piece: Piece) -> dict[str, int]:
    """Return how high a bar stands once it is fitted, where its strip was measured."""
    bore = inputs.length("barrel_bore")
    width, thickness = piece.dimensions.get("width"), piece.dimensions.get("thickness")
    if bore is None or width is None or thickness is None:
        return {}
    height = height_in_place(bore, width=width, thickness=thickness)
    return {} if height is None else {"bar_height": height}


def _margins(bar: WantedBar, piece: Piece, width: int, length: int) -> dict[str, int | Decimal]:
    """Return what is to be cut away, the difference in width, and how high it stands."""
    margins: dict[str, int | Decimal] = {
        "cut_away": length - bar.cut_nanometres,
        "width": width - bar.width_nanometres,
    }
    thickness = piece.dimensions.get("thickness")
    if thickness is not None:
        height = height_in_place(bar.bore_nanometres, width=width, thickness=thickness)
        if height is not None:
            margins["height_in_place"] = height
    return margins


def _against(bar: WantedBar, width: int, length: int) -> Iterator[str]:
    """Yield every reason to refuse the bar."""
    if width > bar.widest_nanometres:
        yield (
            f"{millimetres_text(width)} wide leaves the sac no room in a bore of "
            f"{millimetres_text(bar.bore_nanometres)}"
        )
    if width < bar.narrowest_nanometres:
        yield (
            f"{millimetres_text(width)} wide is too narrow to press the sac, or comes out through "
            "the slot"
        )
    short = bar.cut_nanometres - length
    if length < bar.shortest_nanometres:
        yield f"{millimetres_text(short)} too short: {TOO_SHORT[bar.kind]}"


def _of_width(inputs: Inputs, bar: WantedBar, width: int) -> tuple[Verdict, str]:
    """Return the verdict on the width."""
    shown = f"{millimetres_text(width)} wide"
    if not bar.like:
        return Verdict.FITS, f"{shown}, within what a bore of this size takes"
    off = width - bar.width_nanometres
    if abs(off) <= inputs.setting_length("pressure_bar.like_width"):
        return Verdict.FITS, f"{shown}, as the old one"
    word = "wider" if off > 0 else "narrower"
    verdict = Verdict.TIGHT if off > 0 else Verdict.LOOSE
    return verdict, f"{shown}, {millimetres_text(abs(off))} {word} than the old one"


def _of_length(bar: WantedBar, length: int) -> Iterator[str]:
    """Yield what has to be cut away."""
    cut_away = length - bar.cut_nanometres
    if cut_away < 0:
        yield (
            f"{millimetres_text(-cut_away)} shorter than wanted: see that it bows as the button is "
            "pressed"
        )
    elif cut_away:
        where = "its flat end" if bar.is_j else "one end"
        yield (
            f"cut {millimetres_text(cut_away)} off {where}, to "
            f"{millimetres_text(bar.cut_nanometres)}"
        )
    else:
        yield "just as long as is wanted"


def _of_height(bar: WantedBar, piece: Piece, width: int) -> Iterator[str]:
    """Yield how high the bar stands off the wall, which the sac's size needs."""
    thickness = piece.dimensions.get("thickness")
    if thickness is None:
        return
    height = height_in_place(bar.bore_nanometres, width=width, thickness=thickness)
    if height is not None:
        yield f"it stands {millimetres_text(height)} off the wall, which sizes the sac"
