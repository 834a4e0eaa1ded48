"""Volumes in exact millilitres (but for the number pi), from millilitres given or from measures."""

from __future__ import annotations

from fractions import Fraction

from sparewell.plugin import ImpossibleInput, Inputs, cylinder_millilitres, length_text
from sparewell_fills.inputs import System
from sparewell_fills.wording import millilitres_text


def sac_millilitres(inputs: Inputs) -> Fraction:
    """Return what the sac holds. Raises ImpossibleInput."""
    measures = ("sac_inside_diameter", "sac_outside_diameter", "sac_length", "nipple_length")
    given = inputs.number("sac_volume_ml")
    if given is not None:
        # A pneumatic filler's air needs the outside of the sac even where its volume was given.
        _refuse_both(inputs, "sac_volume_ml", (measures[0],))
        return given
    inside_nanometres = _sac_inside(inputs)
    length_nanometres = _required(inputs, "sac_length", "or sac_volume_ml")
    nipple_nanometres = inputs.length("nipple_length") or 0
    if nipple_nanometres >= length_nanometres:
        raise ImpossibleInput(
            (
                "nipple_length",
                (
                    f"the nipple of {length_text(nipple_nanometres)} is as long as the sac of "
                    f"{length_text(length_nanometres)}, which then holds nothing"
                ),
            )
        )
    return cylinder_millilitres(inside_nanometres, length_nanometres - nipple_nanometres)


def swept_millilitres(inputs: Inputs, system: System) -> Fraction:
    """Return what one stroke sweeps. Raises ImpossibleInput."""
    given = inputs.number("swept_volume_ml")
    if given is not None:
        _refuse_both(inputs, "swept_volume_ml", ("stroke", "rod_diameter", "tube_diameter"))
        return given
    instead = "or swept_volume_ml"
    stroke_nanometres = _required(inputs, "stroke", instead)
    if system is System.PNEUMATIC:
        tube_nanometres = _required(inputs, "tube_diameter", instead)
        bore_nanometres = inputs.length("barrel_bore")
        if bore_nanometres is not None:
            _refuse_wider(inputs, "tube_diameter", "moving tube", "barrel_bore", "barrel bore")
        return cylinder_millilitres(tube_nanometres, stroke_nanometres)
    bore_nanometres = _required(inputs, "barrel_bore", instead)
    swept = cylinder_millilitres(bore_nanometres, stroke_nanometres)
    rod_nanometres = inputs.length("rod_diameter")
    if system is System.PLUNGER and rod_nanometres is not None:
        _refuse_wider(inputs, "rod_diameter", "rod", "barrel_bore", "barrel bore")
        swept -= cylinder_millilitres(rod_nanometres, stroke_nanometres)
    return swept


def air_millilitres(inputs: Inputs) -> Fraction:
    """Return the air round the sac with the plunger out. Raises ImpossibleInput."""
    given = inputs.number("air_volume_ml")
    if given is not None:
        _refuse_both(inputs, "air_volume_ml", ("barrel_depth",))
        return given
    bore_nanometres = _required(inputs, "barrel_bore", "or air_volume_ml")
    depth_nanometres = _required(inputs, "barrel_depth", "or air_volume_ml")
    barrel = cylinder_millilitres(bore_nanometres, depth_nanometres)
    outside = _sac_outside_millilitres(inputs)
    if outside >= barrel:
        raise ImpossibleInput(
            (
                "barrel_depth",
                (
                    f"the barrel of {millilitres_text(barrel)} leaves no air round a sac of "
                    f"{millilitres_text(outside)}: measure both again"
                ),
            )
        )
    return barrel - outside


def _sac_inside(inputs: Inputs) -> int:
    """Return the inside diameter, measured or from the outside and the wall."""
    inside_nanometres = inputs.length("sac_inside_diameter")
    outside_nanometres = inputs.length("sac_outside_diameter")
    if inside_nanometres is not None:
        if outside_nanometres is not None and inside_nanometres >= outside_nanometres:
            raise ImpossibleInput(
                (
                    "sac_inside_diameter",
                    (
                        f"{length_text(inside_nanometres)} inside does not go into "
                        f"{length_text(outside_nanometres)} outside: were they swapped?"
                    ),
                )
            )
        return inside_nanometres
    if outside_nanometres is None:
        raise ImpossibleInput(
            ("sac_inside_diameter", "give this, sac_outside_diameter or sac_volume_ml")
        )
    inside_nanometres = outside_nanometres - 2 * _wall(inputs)
    if inside_nanometres <= 0:
        name = "sac_wall" if "sac_wall" in inputs else "sac_outside_diameter"
        raise ImpossibleInput(
            (name, f"walls of {length_text(_wall(inputs))} leave no hole in such a sac")
        )
    return inside_nanometres


def _sac_outside_millilitres(inputs: Inputs) -> Fraction:
    """Return the room that the sac itself takes in the barrel."""
    length_nanometres = inputs.length("sac_length")
    outside_nanometres = inputs.length("sac_outside_diameter")
    if length_nanometres is None:
        # Only its volume is known: the walls are left out, which the warnings say.
        return sac_millilitres(inputs)
    if outside_nanometres is None:
        outside_nanometres = _sac_inside(inputs) + 2 * _wall(inputs)
    return cylinder_millilitres(outside_nanometres, length_nanometres)


def _wall(inputs: Inputs) -> int:
    """Return the wall, given or assumed."""
    return inputs.length("sac_wall") or inputs.setting_length("fill.sac_wall")


def _required(inputs: Inputs, name: str, instead: str) -> int:
    """Return a length that the system cannot do without."""
    nanometres = inputs.length(name)
    if nanometres is None:
        raise ImpossibleInput((name, f"give this {instead}"))
    return nanometres


def _refuse_both(inputs: Inputs, volume: str, measures: tuple[str, ...]) -> None:
    """Refuse a volume that is given beside the measures it would be worked out from."""
    for name in measures:
        if name in inputs:
            raise ImpossibleInput((name, f"give either this or {volume}, not both"))


def _refuse_wider(inputs: Inputs, inner: str, words: str, outer: str, around: str) -> None:
    """Refuse what does not go into what it runs in."""
    inner_nanometres, outer_nanometres = inputs.length(inner) or 0, inputs.length(outer) or 0
    if inner_nanometres >= outer_nanometres:
        raise ImpossibleInput(
            (
                inner,
                (
                    f"the {words} of {length_text(inner_nanometres)} does not go into the {around} "
                    f"of {length_text(outer_nanometres)}: were they swapped?"
                ),
            )
        )
