"""The rules about materials that a plugin may declare: how long they keep, and what harms what."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class AgeingRule:
    """How long a material keeps in storage, counted from making. `years` None: not limited.

    After an inspection some schemes grant `extension_years` more.
    """

    name: str
    scheme: str
    material: str
    years: int | None
    source: str
    extension_years: int | None = None


@dataclass(frozen=True)
class CautionRule:
    """A caution for material x step x substance; None matches everything.

    One that is not `dismissible` cannot be switched off by any setting.
    """

    name: str
    caution: str
    source: str
    material: str | None = None
    step: str | None = None
    substance: str | None = None
    dismissible: bool = True


@dataclass(frozen=True)
class PieceRule:
    """What a piece of one material does to a pen of others: it is refused, or it is said.

    `pens` are materials of pens by the names the rules know them by. A pen of which anything is
    unknown counts as each of them where the piece is refused; of the kinds in `unknown_kinds`, a
    piece of unknown material counts as this one.
    """

    name: str
    says: str
    source: str
    piece: str
    pens: tuple[str, ...]
    refuses: bool = False
    unknown_kinds: tuple[str, ...] = ()
