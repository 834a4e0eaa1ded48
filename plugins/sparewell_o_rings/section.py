"""How much of its cross-section a ring loses when it is stretched: four published models.

Every model answers the share R of the section that is lost at a stretch X, both as fractions of
one. They disagree: at small stretch the measured ones lose about twice what constant volume does.

* AS4716 appendix A, the form also in AS5857. It is the only one with a branch of its own for
  small rings, inside diameter up to 2.95 sections, which is the range of fountain pens:
  R = 100 X / (315 e^(-ID/W) + 165 + 100 X). Above it, up to 3 %, R = 0.0001 + 1.06 X - 10 X²,
  and further R = 0.0056 + 0.59 X - 0.46 X². The constant 0.0001 is printed 0.001 in one copy;
  only 0.0001 joins the branches at 3 %.
* Handbook (catalogue ORD 5700), in per cent: up to 3 %, -0.005 + 1.19 S - 0.19 S² - 0.001 S³ +
  0.008 S⁴; further, 0.56 + 0.59 S - 0.0046 S².
* Constant volume: W / sqrt(1 + X). Derived.
* None: the section as it is, as the squeeze of JIS B 2401-2 is printed.

The two published models end at a stretch of 25 %, and beyond 64 % their formulas turn back, so that
more stretch would leave more of the section: there nothing is reckoned by them.
"""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Final

SMALL_RATIO: Final = Decimal("2.95")
JOINT: Final = Decimal("0.03")
ENDS: Final = Decimal("0.25")
_TURNS_BACK: Final = Decimal("0.64")

_NOTHING: Final = Decimal(0)
_HUNDRED: Final = Decimal(100)


class SectionModel(StrEnum):
    """The name of a model, as the setting holds it."""

    AS4716 = "as4716"
    HANDBOOK = "handbook"
    CONSTANT_VOLUME = "constant_volume"
    NONE = "none"


MODEL_NAMES: Final = {
    SectionModel.AS4716: "AS4716 appendix A / AS5857",
    SectionModel.HANDBOOK: "O-ring handbook (catalogue ORD 5700)",
    SectionModel.CONSTANT_VOLUME: "constant volume, W / sqrt(1 + S)",
    SectionModel.NONE: "none: the section is not thinned",
}


def holds(model: SectionModel, least: Decimal, most: Decimal) -> bool:
    """Return whether a model says anything of a stretch that lies between these."""
    if model in {SectionModel.CONSTANT_VOLUME, SectionModel.NONE}:
        return True
    return least <= ENDS and most <= _TURNS_BACK


def lost_share(model: SectionModel, stretch: Decimal, ratio: Decimal) -> Decimal:
    """Return the share of the section lost at a stretch (a fraction) and a ratio ID/W.

    A ring that is not stretched loses nothing. Call within a decimal context of at least 20 digits.
    """
    if stretch <= 0 or model is SectionModel.NONE:
        return _NOTHING
    if model is SectionModel.CONSTANT_VOLUME:
        return 1 - 1 / (1 + stretch).sqrt()
    if model is SectionModel.HANDBOOK:
        return max(_handbook_percent(stretch * _HUNDRED), _NOTHING) / _HUNDRED
    if ratio <= SMALL_RATIO:
        percent = stretch * _HUNDRED
        return percent / (315 * (-ratio).exp() + 165 + percent)
    if stretch <= JOINT:
        return Decimal("0.0001") + Decimal("1.06") * stretch - 10 * stretch * stretch
    return Decimal("0.0056") + Decimal("0.59") * stretch - Decimal("0.46") * stretch * stretch


def _handbook_percent(percent: Decimal) -> Decimal:
    """Return the handbook's loss in per cent at a stretch in per cent."""
    if percent <= JOINT * _HUNDRED:
        return (
            Decimal("-0.005")
            + Decimal("1.19") * percent
            - Decimal("0.19") * percent**2
            - Decimal("0.001") * percent**3
            + Decimal("0.008") * percent**4
        )
    return Decimal("0.56") + Decimal("0.59") * percent - Decimal("0.0046") * percent**2
