"""What to ask a seller for where nothing in hand fits, and what to check when it arrives."""

from __future__ import annotations

from fractions import Fraction
from math import floor

from sparewell.plugin import Inputs, Purchase, millimetres_text
from sparewell_sacs.limits import SizingOutcome, diameter_nanometres
from sparewell_sacs.sizing import Sizing
from sparewell_sacs.wording import size_text


def purchases_of(
    inputs: Inputs, sizing: Sizing, least_inside_nanometres: int
) -> tuple[Purchase, ...]:
    """Return what to buy; nothing while the barrel is in doubt, or where nothing is sold.

    Where an ordinary sac on the nipple does not enter the bore, only a thin one is worth buying.
    """
    if sizing.outcome is SizingOutcome.CHECK_BARREL:
        return ()
    if sizing.recommended < floor(inputs.setting_number("sac.smallest_sold")):
        return ()
    largest = Fraction(floor(inputs.setting_number("sac.largest_sold")))
    size = min(sizing.recommended, largest)
    purchases = [_straight(sizing, size, least_inside_nanometres)]
    if sizing.outcome is SizingOutcome.NIPPLE_LIMITS:
        purchases.append(_necked(sizing, min(Fraction(floor(sizing.barrel_takes)), largest)))
    return tuple(purchases)


def _straight(sizing: Sizing, size: Fraction, least_inside_nanometres: int) -> Purchase:
    """Return the straight sac to ask for."""
    thin = thin_check = ""
    if not sizing.enters:
        thin = "thin-walled "
        thin_check = f"; its wall under {millimetres_text(sizing.thickest_wall_nanometres)}"
    whole = floor(size)
    or_whole = f" (or {whole})" if size != whole else ""
    return Purchase(
        ask_for=(
            f"a straight {thin}{_material(sizing)} sac no. {size_text(size)}{or_whole}: about "
            f"{millimetres_text(floor(diameter_nanometres(size)))} outside"
        ),
        check_on_arrival=(
            "measure the outside through a drill gauge or with plug gauges, not by its packet: "
            f"at most {millimetres_text(_at_most(sizing))}; inside at least "
            f"{millimetres_text(least_inside_nanometres)}{thin_check}"
        ),
    )


def _necked(sizing: Sizing, body: Fraction) -> Purchase:
    """Return the necked sac that would fill the barrel."""
    nipple_nanometres = sizing.readings.nipple_nanometres
    return Purchase(
        ask_for=(
            f"or a necked {_material(sizing)} sac, body no. {size_text(body)}, neck for a nipple "
            f"of {millimetres_text(nipple_nanometres)}"
        ),
        check_on_arrival=(
            f"measure the body: at most {millimetres_text(_at_most(sizing))} outside; and the "
            f"neck: its hole a little under {millimetres_text(nipple_nanometres)}"
        ),
    )


def _at_most(sizing: Sizing) -> int:
    """Return the widest that goes in: what the barrel leaves, or the size tried in."""
    if sizing.tried is not None:
        return floor(diameter_nanometres(sizing.tried))
    return sizing.readings.room_nanometres


def _material(sizing: Sizing) -> str:
    """Return the material as a seller writes it."""
    return "PVC" if sizing.material == "pvc" else sizing.material
