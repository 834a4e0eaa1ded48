"""Whether the material of a piece suits the pen, by the rules that the plugins declare."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final

from sqlalchemy import ColumnElement, func, literal, or_, true

from sparewell.extend.declarations import Judgement, Verdict
from sparewell.extend.host import Declarations
from sparewell.extend.rules import PieceRule
from sparewell.lots.tables import Lot
from sparewell.measure.materials import PEN_MATERIALS, as_known, names_of, piece_material

# A material as it stands in a column, spelled as the rules have it.
_MATERIAL: Final = func.lower(func.trim(Lot.material))


@dataclass(frozen=True)
class Suiting:
    """The rules for one pen, and the materials that its pieces are taken in, the first one first.

    Without an order any material that is not refused is as good as another.
    """

    declared: Declarations
    pen_materials: Sequence[str] = ()
    order: Sequence[str] = ()
    _written: dict[tuple[str, str | None], tuple[str, str]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def with_material(self, judgement: Judgement, kind: str, material: str | None) -> Judgement:
        """Return a verdict with what the material adds: a refusal, or a remark."""
        against, said = self._sentences(kind, material)
        is_refused = judgement.verdict is Verdict.REFUSED
        if against:
            reasons = (lambda: f"{judgement.why}; {against}") if is_refused else against
            return replace(judgement, verdict=Verdict.REFUSED, why=reasons)
        if is_refused or not said:
            return judgement
        return replace(judgement, why=lambda: f"{judgement.why}; {said}")

    def _sentences(self, kind: str, material: str | None) -> tuple[str, str]:
        """Return what is said against a material, and what is said of it; it is written once."""
        if (kind, material) not in self._written:
            words = list(self._words(kind, material))
            against = "; ".join(sentence for rule, sentence in words if rule.refuses)
            said = [sentence for rule, sentence in words if not rule.refuses]
            if not self.is_taken_unasked(kind, material):
                said.append(
                    f"{self._spoken(kind, material)}, and what is taken unasked is "
                    f"{', else '.join(self.order)}: a person decides"
                )
            self._written[kind, material] = against, "; ".join(said)
        return self._written[kind, material]

    def refuses(self, kind: str, material: str | None) -> bool:
        """Whether a piece of this material may not come near the pen."""
        return bool(self.against(kind, material))

    def against(self, kind: str, material: str | None) -> str:
        """Return why a piece of this material may not come near the pen, or nothing."""
        return self._sentences(kind, material)[0]

    def is_taken_unasked(self, kind: str, material: str | None) -> bool:
        """Whether a piece of this material may be taken without a person asking for it."""
        return not self.order or self._known(kind, material) in self.order

    def rank(self, kind: str, material: str | None) -> int:
        """Return how far back in the order a material stands; any other stands last."""
        known = self._known(kind, material)
        return self.order.index(known) if known in self.order else len(self.order)

    def may_come_near(self, kind: str) -> ColumnElement[bool]:
        """Return the condition that a piece of a kind is not refused, as far as a column tells it.

        The search asks by it; what is found is judged by :meth:`with_material` all the same.
        """
        known = self._known_names(kind)
        refused = [name for name in known if self.refuses(kind, name)]
        described = self.declared.kinds.get(kind)
        if described is not None and described.materials and self.refuses(kind, None):
            return _is_one_of(tuple(name for name in known if name not in refused))
        return _is_none_of(tuple(refused))

    def in_order(self, kind: str) -> ColumnElement[bool] | None:
        """Return the condition that a piece is taken unasked; None where any is."""
        known = self._known_names(kind)
        wanted = [name for name in known if self.is_taken_unasked(kind, name)]
        return _is_one_of(tuple(wanted)) if self.order else None

    def _known_names(self, kind: str) -> list[str]:
        """Return every name of the materials that the rules, or the kind, speak of."""
        described = self.declared.kinds.get(kind)
        spoken_of = {rule.piece for rule in self.declared.piece_rules.values()}
        return names_of({*self.order, *spoken_of, *(described.materials if described else ())})

    def _words(self, kind: str, material: str | None) -> Iterator[tuple[PieceRule, str]]:
        pen, has_unknown = as_known(self.pen_materials)
        known = self._known(kind, material)
        for rule in self.declared.piece_rules.values():
            counts = not known and kind in rule.unknown_kinds
            if rule.piece != known and not counts:
                continue
            if pen.isdisjoint(rule.pens):
                if not (has_unknown and rule.refuses):
                    continue
                because = "what this pen is made of is not fully known, so: "
            else:
                because = ""
            as_what = f" and counts as {rule.piece}" if counts else ""
            yield (
                rule,
                f"{self._spoken(kind, material)}{as_what}: {because}{rule.says} ({rule.source})",
            )

    def _known(self, kind: str, material: str | None) -> str:
        """Return a material that pieces of the kind are made of, or nothing for any other."""
        known = piece_material(material)
        described = self.declared.kinds.get(kind)
        if described is None or not described.materials or known in described.materials:
            return known
        return ""

    def _spoken(self, kind: str, material: str | None) -> str:
        if self._known(kind, material):
            return f"it is of {material}"
        return f"its material ({material or 'not noted'}) is unknown"


@lru_cache
def _is_one_of(names: tuple[str, ...]) -> ColumnElement[bool]:
    return _MATERIAL.in_([literal(name) for name in names])


@lru_cache
def _is_none_of(names: tuple[str, ...]) -> ColumnElement[bool]:
    return (
        or_(Lot.material.is_(None), _MATERIAL.not_in([literal(name) for name in names]))
        if names
        else true()
    )


def of_pieces_and_pen(
    declared: Declarations, kind: str, materials: Sequence[str], of_pen: Sequence[str]
) -> tuple[list[str], list[str]]:
    """Return the materials wanted of pieces, and those of the pen.

    A body's material among the first, of which no such piece is made, is meant of the pen.
    """
    of_kind = declared.kinds[kind].materials
    is_body = [
        material.strip().lower() in PEN_MATERIALS and piece_material(material) not in of_kind
        for material in materials
    ]
    named = zip(materials, is_body, strict=True)
    wanted = [material for material, body in named if not body]
    return wanted, [*of_pen, *(each for each in materials if each not in wanted)]
