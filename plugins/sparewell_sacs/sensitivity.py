"""What a small error of each reading would do to the answer."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import floor
from typing import Final

from sparewell.plugin import Inputs, millimetres_text
from sparewell_sacs.sizing import Sizing, half_size_of
from sparewell_sacs.wording import READING_WORDS, size_number, size_text

_MEASURE_AGAIN: Final = {
    "barrel_bore": "measure again, {depth} or deeper",
    "barrel_bore_tail": "measure the tail again",
    "guard_bore": "measure the guard again, in two directions",
    "bar_height": "measure the bar again, in place",
    "bar_thickness": "measure the bar again",
    "ring_wire": "measure the ring again, in place",
    "nipple_diameter": "measure the nipple again, clean and in two directions",
}


def sensitivity_of(inputs: Inputs, sizing: Sizing) -> list[Mapping[str, object]]:
    """Return one entry for each reading the answer rests on.

    A clearance that was not asked for moves along, as it would if the pen were measured so.
    A size that was tried in does not move with the readings, so there is nothing to say.
    """
    if sizing.tried is not None:
        return []
    readings = sizing.readings
    varied = {readings.bore.governing_name: readings.bore.governing_nanometres}
    if readings.bar.times:
        name = "bar_height" if readings.bar.reading == "default" else readings.bar.reading
        varied[name] = inputs.length(name) or readings.bar.height_nanometres
    varied["nipple_diameter"] = readings.nipple_nanometres
    return [
        _entry(inputs, sizing.half_size, name, nanometres) for name, nanometres in varied.items()
    ]


def _entry(inputs: Inputs, half_size: Fraction, name: str, nanometres: int) -> Mapping[str, object]:
    """Return what the answer becomes when one reading is a little less, and a little more."""
    change_nanometres = inputs.spread(name)
    if change_nanometres is None:
        change_nanometres = inputs.setting_length("sac.reading_uncertainty")
    answers = {
        "less": _with(inputs, name, nanometres - change_nanometres),
        "more": _with(inputs, name, nanometres + change_nanometres),
    }
    moved = [
        f"{size_text(answer)} ({word})"
        for word, answer in answers.items()
        if answer is not None and answer != half_size
    ]
    impossible = [word for word, answer in answers.items() if answer is None]
    change_text = f"{millimetres_text(change_nanometres)} on the {READING_WORDS[name]}"
    if moved:
        depth_text = millimetres_text(inputs.setting_length("sac.bore_depth"))
        why = (
            f"{change_text} moves the answer from {size_text(half_size)} to {' or '.join(moved)}: "
            f"{_MEASURE_AGAIN[name].format(depth=depth_text)}"
        )
    else:
        why = f"{change_text} does not move the answer from {size_text(half_size)}"
    if impossible:
        why += f"; {' and '.join(impossible)} than read, nothing would go in at all"
    return {
        "reading": name,
        "change": change_nanometres,
        "less": _answer(answers["less"]),
        "more": _answer(answers["more"]),
        "moves": bool(moved),
        "why": why,
    }


def _with(inputs: Inputs, name: str, nanometres: int) -> Fraction | None:
    """Return the half size with one reading replaced, or None where that cannot be."""
    if nanometres <= 0:
        return None
    return half_size_of(inputs.changed(**{name: nanometres}))


def _answer(half_size: Fraction | None) -> Mapping[str, object] | None:
    """Return the answer as the result carries it."""
    if half_size is None:
        return None
    return {"size": floor(half_size), "half_size": size_number(half_size)}
