"""Which cautions a pen and the steps of its repair call for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from sparewell.extend.host import Declarations
from sparewell.extend.rules import CautionRule
from sparewell.measure.materials import as_known, piece_material

_KEEPING = ({"name": "store", "substance": None},)


@dataclass(frozen=True)
class Caution:
    """One caution, the steps it stands before, and whether it may be switched off."""

    caution: str
    source: str
    steps: tuple[str, ...]
    dismissible: bool


def cautions_for(
    declared: Declarations,
    materials: Sequence[str],
    steps: Iterable[Mapping[str, Any]],
    fitted: Mapping[str, Collection[str | None]] = MappingProxyType({}),
) -> list[Caution]:
    """Return the cautions for a pen and its steps.

    `fitted` are, by kind, the materials of the pieces promised or that would be: where there are
    any, they count instead of the one that the template takes for granted.

    Those that cannot be switched off come first, and among them those of the pen's own material.

    A material that is not known counts as the one that the step would harm most: casein for
    water, celluloid for heat.
    """
    known, has_unknown = as_known(materials)
    all_steps = [each for step in steps for each in _as_fitted(declared, step, fitted)]
    found = []
    rules = sorted(
        declared.caution_rules.values(),
        key=lambda rule: (rule.dismissible, rule.material is None, rule.name),
    )
    for rule in rules:
        if not _concerns(rule, known, has_unknown=has_unknown):
            continue
        names = tuple(
            dict.fromkeys(str(step["name"]) for step in all_steps if _happens(rule, step))
        )
        if names:
            found.append(Caution(_worded(rule, known), rule.source, names, rule.dismissible))
    return found


def of_keeping(declared: Declarations, materials: Sequence[str]) -> list[Caution]:
    """Return the cautions for keeping a pen that is to be stripped."""
    return cautions_for(declared, materials, _KEEPING)


def forbidden_positions(
    declared: Declarations, materials: Sequence[str], steps: Sequence[Mapping[str, Any]]
) -> frozenset[int]:
    """Return the positions of steps whose substance must never touch what a pen is made of."""
    known, has_unknown = as_known(materials)
    substances = {
        rule.substance
        for rule in declared.caution_rules.values()
        if not rule.dismissible
        and rule.material is not None
        and rule.substance is not None
        and _concerns(rule, known, has_unknown=has_unknown)
    }
    return frozenset(
        position for position, step in enumerate(steps, 1) if step["substance"] in substances
    )


def _as_fitted(
    declared: Declarations,
    step: Mapping[str, Any],
    fitted: Mapping[str, Collection[str | None]],
) -> Iterator[Mapping[str, Any]]:
    """Yield a step once for each material that is fitted in it, or as it is where none is known."""
    substances: set[str] = set()
    for kind, materials in fitted.items():
        described = declared.kinds.get(kind)
        if described is None or step["substance"] not in described.materials:
            continue
        for material in materials:
            known = piece_material(material)
            if known in described.materials:
                substances.add(known)
            else:
                substances |= {str(step["substance"]), *_worst(declared, kind)}
    for substance in sorted(substances):
        yield {**step, "substance": substance}
    if not substances:
        yield step


def _worst(declared: Declarations, kind: str) -> Iterator[str]:
    """Yield what a piece of unknown material counts as."""
    for rule in declared.piece_rules.values():
        if kind in rule.unknown_kinds:
            yield rule.piece


def _concerns(rule: CautionRule, known: frozenset[str], *, has_unknown: bool) -> bool:
    if rule.material is None or rule.material in known:
        return True
    return has_unknown and not rule.dismissible


def _happens(rule: CautionRule, step: Mapping[str, Any]) -> bool:
    return (rule.step is None or rule.step == step["name"]) and (
        rule.substance is None or rule.substance == step["substance"]
    )


def _worded(rule: CautionRule, known: frozenset[str]) -> str:
    if rule.material is None or rule.material in known:
        return rule.caution
    return f"What this pen is made of is not fully known, so: {rule.caution}"
