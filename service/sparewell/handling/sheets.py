"""What punching takes of a sheet and leaves of it: plane geometry in whole nanometres.

Where nobody says what is left, washers are punched in rows across one end of the sheet, and the
rest is one rectangle. It is reckoned both ways, and the larger rest counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from sparewell.errors import Conflict, Impossible
from sparewell.handling.settings import PUNCH_WEB
from sparewell.lots.tables import Lot
from sparewell.measure.entered import EnteredLength
from sparewell.measure.length import length_text
from sparewell.settings.operations import present_values
from sparewell.work import Work

# A little below the true number: only what can never go onto a sheet is refused.
_PI_AT_LEAST = Fraction(314159, 100000)


@dataclass(frozen=True)
class Rest:
    """What is left: the sides in nanometres, the shorter first, and how deep a strip was taken."""

    width: int
    length: int
    strip: int
    across: int


def rest_of(width: int, length: int, outside_diameter: int, quantity: int, web: int) -> Rest | None:
    """Return what is left of a sheet, None where no washer more could be punched from it."""
    rests = [
        rest
        for across, along in ((width, length), (length, width))
        if (rest := _rest(across, along, outside_diameter, quantity, web)) is not None
    ]
    return max(rests, key=lambda rest: rest.width * rest.length, default=None)


def _rest(across: int, along: int, outside: int, quantity: int, web: int) -> Rest | None:
    if outside > across:
        return None
    in_a_row = (across - outside) // (outside + web) + 1
    rows = -(-quantity // in_a_row)
    strip = rows * (outside + web)
    left = along - strip
    if left < outside:
        return None
    return Rest(min(left, across), max(left, across), strip, across)


@dataclass(frozen=True)
class Washer:
    """What is punched out of a sheet."""

    part: str
    quantity: int
    outside_diameter: EnteredLength
    inside_diameter: EnteredLength | None = None


@dataclass(frozen=True)
class Offcut:
    """A piece of a sheet that is left."""

    width: EnteredLength
    length: EnteredLength

    @property
    def area(self) -> int:
        """Its area in square nanometres."""
        return self.width.nanometres * self.length.nanometres


def left_of(work: Work, lot: Lot, washer: Washer) -> tuple[tuple[Offcut, ...], str]:
    """Return what is left of a sheet where nobody says it, and how that comes about, in words."""
    if lot.width_nanometres is None or lot.length_nanometres is None:
        return (), ""  # what is no sheet is refused in a moment
    outside = washer.outside_diameter.nanometres
    web = present_values(work.session, work.declared).length(PUNCH_WEB.name)
    both = lot.width_nanometres, lot.length_nanometres
    rest = rest_of(*both, outside, washer.quantity, web)
    if rest is None:
        return (), f"{washer.quantity} washers leave no piece that another could be punched from"
    offcut = Offcut(_length(rest.width), _length(rest.length))
    strip = f"a strip of {sides(rest.strip, rest.across)} with a web of {length_text(web)}"
    return (offcut,), f"{washer.quantity} washers take {strip}"


def _length(nanometres: int) -> EnteredLength:
    return EnteredLength(nanometres, length_text(nanometres))


def sides(one: int | None, other: int | None) -> str:
    """Return "50 mm by 80 mm", the shorter side first."""
    short, long = sorted((one or 0, other or 0))
    return f"{length_text(short)} by {length_text(long)}"


def kept(offcuts: Sequence[Lot]) -> str:
    """Say what is kept of a sheet, and as which lots."""
    if not offcuts:
        return "nothing of it is kept"
    each_kept = (
        f"{sides(each.width_nanometres, each.length_nanometres)} as bag {each.id}"
        for each in offcuts
    )
    return f"kept of it: {', '.join(each_kept)}"


def refuse_sheet(lot: Lot, washer: Washer, offcuts: Sequence[Offcut]) -> int:
    """Refuse what cannot come out of a sheet; return its area in square nanometres."""
    if lot.width_nanometres is None or lot.length_nanometres is None:
        raise Conflict(
            f"the width and the length of bag {lot.id} are not known: it is no sheet, or measure "
            "them first"
        )
    short, long = sorted((lot.width_nanometres, lot.length_nanometres))
    size = f"{length_text(short)} by {length_text(long)}"
    if washer.outside_diameter.nanometres > short:
        raise Impossible.at("/outside_diameter", f"the sheet is only {size}")
    for position, offcut in enumerate(offcuts):
        narrow, wide = sorted((offcut.width.nanometres, offcut.length.nanometres))
        if narrow > short or wide > long:
            raise Impossible.at(f"/offcuts/{position}", f"larger than the sheet, which is {size}")
    punched = washer.quantity * _PI_AT_LEAST * washer.outside_diameter.nanometres**2 / 4
    if sum(offcut.area for offcut in offcuts) + punched > short * long:
        raise Impossible.at(
            "/offcuts", f"washers and offcuts together are larger than the sheet, which is {size}"
        )
    return short * long
