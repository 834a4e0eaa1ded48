"""What a gland does to a ring: stretch, squeeze and fill, each nominal and at its extremes.

The extremes are over every combination of the tolerances, of the gland and of the ring, each
dimension varying on its own. Within one branch of a section model all three figures go one way
with each dimension, so the extremes lie at the corners, or where a branch begins: both sides of
that place are looked at as well.

All figures are reckoned to 28 digits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Final

from sparewell_o_rings.glands import Gland, GlandKind, Span
from sparewell_o_rings.section import JOINT, SMALL_RATIO, SectionModel, holds, lost_share
from sparewell_o_rings.sizes import Ring
from sparewell_o_rings.tolerances import PRECISE

PI: Final = Decimal("3.141592653589793238462643383")
_HUNDRED: Final = Decimal(100)


@dataclass(frozen=True)
class Percent:
    """A figure in per cent: nominal, and its extremes."""

    nominal: Decimal
    least: Decimal
    most: Decimal


@dataclass(frozen=True)
class Assessment:
    """What one ring comes to in one gland; `fill` is None while the width is unknown.

    So are squeeze, fill and section where the ring is stretched further than the model goes.
    """

    stretch: Percent
    squeeze: Percent | None
    fill: Percent | None
    stretched_section_nanometres: Decimal | None
    peripheral_compression: Decimal | None
    fitting_stretch: Decimal | None


@dataclass(frozen=True)
class _Corner:
    """One combination of the tolerances."""

    resting: int
    facing: int
    inside: int
    section: int
    width: int | None
    corner_radius: int


@dataclass(frozen=True)
class _Figures:
    """Squeeze and fill of one combination, in per cent, and the section that is left."""

    squeeze: Decimal
    fill: Decimal | None
    section: Decimal


def assess(gland: Gland, ring: Ring, model: SectionModel) -> Assessment:
    """Return what the gland does to the ring, at every extreme of the tolerances.

    The tolerances of the ring must leave something of it.
    """
    inside = Span.around(ring.inside_nanometres, ring.inside_tolerance_nanometres)
    section = Span.around(ring.section_nanometres, ring.section_tolerance_nanometres)
    with localcontext(PRECISE):
        stretch = _stretch(gland.resting, inside)
        if not holds(model, stretch.least / _HUNDRED, stretch.most / _HUNDRED):
            return _of_stretch_alone(gland, stretch, inside.nominal, section.nominal)
        nominal = _figures(gland, _nominal(gland, inside, section), model)
        least = [_figures(gland, at, model) for at in _least_corners(gland, inside, section)]
        most = [_figures(gland, at, model) for at in _most_corners(gland, inside, section)]
        return Assessment(
            stretch=stretch,
            squeeze=Percent(
                nominal.squeeze,
                min(each.squeeze for each in least),
                max(each.squeeze for each in most),
            ),
            fill=_fill(nominal, least, most),
            stretched_section_nanometres=nominal.section,
            peripheral_compression=_peripheral(gland, inside.nominal, section.nominal),
            fitting_stretch=_fitting_stretch(gland, inside.nominal),
        )


def _of_stretch_alone(gland: Gland, stretch: Percent, inside: int, section: int) -> Assessment:
    """Return what can be said of a ring stretched further than the model of its section goes."""
    return Assessment(
        stretch=stretch,
        squeeze=None,
        fill=None,
        stretched_section_nanometres=None,
        peripheral_compression=_peripheral(gland, inside, section),
        fitting_stretch=_fitting_stretch(gland, inside),
    )


def _fitting_stretch(gland: Gland, inside: int) -> Decimal | None:
    """Return how far a piston's ring is stretched for a moment, over the edge of the bore."""
    if gland.kind is not GlandKind.PISTON:
        return None
    return _percent_more(gland.facing.nominal, inside)


def _stretch(resting: Span, inside: Span) -> Percent:
    """Return how far the ring is stretched on what it rests on."""
    return Percent(
        _percent_more(resting.nominal, inside.nominal),
        _percent_more(resting.least, inside.most),
        _percent_more(resting.most, inside.least),
    )


def _percent_more(larger: int, smaller: int) -> Decimal:
    """Return by how many per cent a diameter is larger than another."""
    return Decimal(larger - smaller) * _HUNDRED / Decimal(smaller)


def _peripheral(gland: Gland, inside: int, section: int) -> Decimal | None:
    """Return by how much a cavity shortens the outer edge of the free ring, in per cent."""
    if gland.kind is not GlandKind.ROD:
        return None
    outside = inside + 2 * section
    return Decimal(outside - gland.facing.nominal) * _HUNDRED / Decimal(outside)


def _fill(nominal: _Figures, least: list[_Figures], most: list[_Figures]) -> Percent | None:
    """Return the fill, or None while the groove's width is unknown."""
    if nominal.fill is None:
        return None
    return Percent(
        nominal.fill,
        min(each.fill for each in least if each.fill is not None),
        max(each.fill for each in most if each.fill is not None),
    )


def _nominal(gland: Gland, inside: Span, section: Span) -> _Corner:
    """Return the gland and the ring as they are meant to be, with square corners."""
    return _Corner(
        resting=gland.resting.nominal,
        facing=gland.facing.nominal,
        inside=inside.nominal,
        section=section.nominal,
        width=None if gland.width is None else gland.width.nominal,
        corner_radius=0,
    )


def _least_corners(gland: Gland, inside: Span, section: Span) -> Iterator[_Corner]:
    """Yield the combinations among which squeeze and fill are least: thin ring, large gland."""
    for resting, free in _diameters(gland.resting, inside, section.least):
        yield _Corner(
            resting=resting,
            facing=gland.facing.most,
            inside=free,
            section=section.least,
            width=None if gland.width is None else gland.width.most,
            corner_radius=0,
        )


def _most_corners(gland: Gland, inside: Span, section: Span) -> Iterator[_Corner]:
    """Yield the combinations among which squeeze and fill are most: thick ring, small gland."""
    for resting, free in _diameters(gland.resting, inside, section.most):
        yield _Corner(
            resting=resting,
            facing=gland.facing.least,
            inside=free,
            section=section.most,
            width=None if gland.width is None else gland.width.least,
            corner_radius=gland.corner_radius_nanometres,
        )


def _diameters(resting: Span, inside: Span, section: int) -> Iterator[tuple[int, int]]:
    """Yield pairs of seat and free inside diameter: the corners, and where a branch begins."""
    for seat in {resting.least, resting.most}:
        for free in {inside.least, inside.most}:
            yield seat, free
        # Small rings end at a ratio; the branches of the models meet at a stretch of 3 %.
        for edge in (int(SMALL_RATIO * section), int(seat / (1 + JOINT))):
            for free in (edge, edge + 1):
                if inside.least < free < inside.most:
                    yield seat, free
    for free in {inside.least, inside.most}:
        # A ring as large as its seat is not thinned; one that is stretched at all is.
        joint = int(free * (1 + JOINT))
        for seat in (free, free + 1, joint, joint + 1):
            if resting.least < seat < resting.most:
                yield seat, free


def _figures(gland: Gland, at: _Corner, model: SectionModel) -> _Figures:
    """Return squeeze and fill of one combination."""
    inside, section = Decimal(at.inside), Decimal(at.section)
    stretch = Decimal(at.resting - at.inside) / inside
    left = section * (1 - lost_share(model, stretch, inside / section))
    gap = Decimal(gland.twice_gap(at.resting, at.facing)) / 2
    fill = None
    if at.width is not None:
        corners = 2 * (1 - PI / 4) * at.corner_radius**2
        fill = PI / 4 * left * left / (at.width * gap - corners) * _HUNDRED
    return _Figures(squeeze=(left - gap) / left * _HUNDRED, fill=fill, section=left)
