"""What each system takes, as a range, and what limits it.

Pneumatic, by Boyle: drawing the plunger out lets in air of the pressure P and the volume V. Pushing
it in sweeps S. The sac is open to the air through the feed, so the air round it need only rise by
the sac's stiffness p before the sac gives way by C, and of the air a share x may leak:

    (1 - x) P V = (P + p) (V - S + C)    so    C = S - V (p + x P) / (P + p)

never more than the sac holds. The range runs from a stiff sac and some leak to a soft one and none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sparewell.plugin import ImpossibleInput, Inputs
from sparewell_fills.inputs import System
from sparewell_fills.settings import STIFFNESS_KPA
from sparewell_fills.volumes import air_millilitres, sac_millilitres, swept_millilitres
from sparewell_fills.wording import millilitres_text


class FillLimit(StrEnum):
    """What a better fill would need more of, or less."""

    SAC = "sac"
    STROKE = "stroke"
    STIFFNESS = "stiffness"
    LEAK = "leak"


@dataclass(frozen=True)
class Air:
    """The numbers of a pneumatic filler: kilopascals and millilitres."""

    pressure: Fraction
    millilitres: Fraction
    swept: Fraction
    sac: Fraction

    def collapse(self, stiffness: Fraction, leak: Fraction) -> Fraction:
        """Return by how much a sac would give way if it were as large as need be; at least 0."""
        lost = self.millilitres * (stiffness + leak * self.pressure) / (self.pressure + stiffness)
        return max(self.swept - lost, Fraction(0))

    def stiffness_that_gives(self, fill: Fraction) -> Fraction | None:
        """Return the stiffness at which an airtight filler takes so much, or None."""
        lost = self.swept - fill
        return None if lost < 0 else self.pressure * lost / (self.millilitres - lost)

    def leak_that_gives(self, fill: Fraction, stiffness: Fraction) -> Fraction | None:
        """Return the share that must leak for such a fill, or None where no leak explains it."""
        lost = (self.swept - fill) * (self.pressure + stiffness) / self.millilitres - stiffness
        return None if lost < 0 else lost / self.pressure


@dataclass(frozen=True)
class ExpectedFill:
    """What the filler takes, in millilitres; `volumes` by name, for the answer and the working."""

    low: Fraction
    high: Fraction
    limit: FillLimit
    why: str
    volumes: Mapping[str, Fraction]
    air: Air | None = None
    stiffness: tuple[Fraction, Fraction] | None = None
    leak: tuple[Fraction, Fraction] = (Fraction(0), Fraction(0))


def expected_of(inputs: Inputs, system: System) -> ExpectedFill:
    """Return what the system takes. Raises ImpossibleInput."""
    match system:
        case System.SAC:
            return _of_sac(inputs)
        case System.PNEUMATIC:
            return _of_pneumatic(inputs)
        case System.PISTON:
            share_low = _percent(inputs, "fill.piston_share_low")
            return _of_sweep(inputs, system, 1 - share_low, "drawn in as the piston goes back")
        case System.PLUNGER:
            leak = _percent(inputs, "fill.plunger_leak")
            return _of_sweep(inputs, system, leak, "drawn in by the vacuum behind the head")


def _of_sac(inputs: Inputs) -> ExpectedFill:
    """Return the share of the sac that a bar or a squeeze empties."""
    sac = sac_millilitres(inputs)
    low, high = _ordered(inputs, "fill.sac_share_low", "fill.sac_share_high")
    why = (
        f"the sac holds {millilitres_text(sac)}; a bar does not flatten its ends, and it keeps its "
        "corners"
    )
    return ExpectedFill(sac * low, sac * high, FillLimit.SAC, why, {"sac_volume_ml": sac})


def _of_pneumatic(inputs: Inputs) -> ExpectedFill:
    """Return what air pressure empties of the sac."""
    pressure = inputs.number("air_pressure_kpa") or inputs.setting_number("fill.air_pressure")
    air = Air(
        pressure,
        air_millilitres(inputs),
        swept_millilitres(inputs, System.PNEUMATIC),
        sac_millilitres(inputs),
    )
    if air.swept >= air.millilitres:
        name = "swept_volume_ml" if "swept_volume_ml" in inputs else "stroke"
        raise ImpossibleInput(
            (
                name,
                (
                    f"the stroke sweeps {millilitres_text(air.swept)}, and the air round the sac "
                    f"is only {millilitres_text(air.millilitres)}: no plunger goes in so far"
                ),
            )
        )
    soft, stiff = _stiffness(inputs)
    leak_least, leak_most = _leak(inputs, _percent(inputs, "fill.pneumatic_leak"))
    share_low, share_high = _ordered(
        inputs, "fill.pneumatic_share_low", "fill.pneumatic_share_high"
    )
    room = air.sac * share_high
    collapse = air.collapse(soft, leak_least)
    limit, why = _limit_of(air, room, collapse, soft, leak_least)
    return ExpectedFill(
        low=min(air.collapse(stiff, leak_most), air.sac * share_low),
        high=min(collapse, room),
        limit=limit,
        why=why,
        volumes={
            "sac_volume_ml": air.sac,
            "air_volume_ml": air.millilitres,
            "swept_volume_ml": air.swept,
            "collapse_ml": collapse,
        },
        air=air,
        stiffness=(soft, stiff),
        leak=(leak_least, leak_most),
    )


def _limit_of(
    air: Air, room: Fraction, collapse: Fraction, stiffness: Fraction, leak: Fraction
) -> tuple[FillLimit, str]:
    """Return what takes most from a full sac, and how much that is."""
    if collapse >= room:
        return FillLimit.SAC, (
            f"the stroke would empty {millilitres_text(collapse)}, and the sac gives "
            f"{millilitres_text(room)}"
        )
    per_kilopascal = air.millilitres / (air.pressure + stiffness)
    takes = {
        FillLimit.STROKE: max(room - air.swept, Fraction(0)),
        FillLimit.STIFFNESS: per_kilopascal * stiffness,
        FillLimit.LEAK: per_kilopascal * leak * air.pressure,
    }
    limit = max(takes, key=lambda one: takes[one])
    words = {
        FillLimit.STROKE: "the stroke sweeps too little by",
        FillLimit.STIFFNESS: "pressing a sac as stiff as this takes up",
        FillLimit.LEAK: "air that leaks away in the stroke costs",
    }
    return limit, f"{words[limit]} {millilitres_text(takes[limit])}"


def _of_sweep(inputs: Inputs, system: System, sound_loss: Fraction, how: str) -> ExpectedFill:
    """Return what a piston or plunger draws: its sweep less what is lost."""
    swept = swept_millilitres(inputs, system)
    leak_least, leak_most = _leak(inputs, sound_loss)
    limit = FillLimit.LEAK if leak_least > sound_loss else FillLimit.STROKE
    why = f"the stroke sweeps {millilitres_text(swept)}, {how}"
    if limit is FillLimit.LEAK:
        why += f"; the leak costs {millilitres_text(swept * leak_least)} of it"
    return ExpectedFill(
        low=swept * (1 - leak_most),
        high=swept * (1 - leak_least),
        limit=limit,
        why=why,
        volumes={"swept_volume_ml": swept},
        leak=(leak_least, leak_most),
    )


def _leak(inputs: Inputs, sound_loss: Fraction) -> tuple[Fraction, Fraction]:
    """Return the least and the most share that leaks: as given, or up to what is still sound."""
    given = inputs.number("leak_percent")
    return (Fraction(0), sound_loss) if given is None else (given / 100, given / 100)


def _stiffness(inputs: Inputs) -> tuple[Fraction, Fraction]:
    """Return the softest and the stiffest the sac may be, in kilopascals."""
    given = inputs.number("sac_stiffness_kpa")
    if given is not None:
        return given, given
    material = inputs.text("sac_material") or "unknown"
    materials = STIFFNESS_KPA if material == "unknown" else (material,)
    found = [
        inputs.setting_number(f"fill.stiffness_{one}_{end}")
        for one in materials
        for end in ("low", "high")
    ]
    return min(found), max(found)


def _percent(inputs: Inputs, name: str) -> Fraction:
    """Return a setting in percent as a share."""
    return inputs.setting_number(name) / 100


def _ordered(inputs: Inputs, low: str, high: str) -> tuple[Fraction, Fraction]:
    """Return two shares, the smaller first, however the workshop has set them."""
    one, other = _percent(inputs, low), _percent(inputs, high)
    return min(one, other), max(one, other)
