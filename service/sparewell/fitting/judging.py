"""Judging one piece: by its material, its age, the calculator, and what was done with it.

What would be said of a piece is written when it is read: hundreds are judged for the few shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from sqlalchemy import ColumnElement, and_, func, literal, true

from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Judgement, Piece, Verdict
from sparewell.extend.sentences import Sentence
from sparewell.fitting.materials import Suiting
from sparewell.lots.ageing import FitBy, fit_by, in_date
from sparewell.lots.claims import basis, spreads
from sparewell.lots.conditions import LOOK_FIRST, Condition
from sparewell.lots.tables import Lot
from sparewell.reservations.promising import Margins
from sparewell.settings.operations import present_values
from sparewell.work import Work

MEASURED = "measured"
_UNKNOWN = "unknown"
ORDER = {verdict: position for position, verdict in enumerate(Verdict)}
# A piece that would sit loose has to be asked for by name.
TAKEN_BY_ITSELF = (Verdict.FITS, Verdict.TRY_IN, Verdict.TIGHT)


@dataclass(frozen=True)
class Candidate:
    """A piece in hand that would do, and how well."""

    lot: Lot
    verdict: Verdict
    basis: str
    margins: Mapping[str, int | Decimal]
    preference: int
    fit_by: FitBy
    why: Sentence = Sentence()  # noqa: RUF009 - a descriptor, not a default
    reach: int = 0  # a drawer before a donor already broken into, that before a whole one
    is_recommended: bool = False
    is_taken_unasked: bool = True
    material_rank: int = 0  # by the order in which the need takes materials
    calculator: str = ""

    @property
    def room(self) -> Margins:
        """Its margins, and whose they are, as a promise keeps them."""
        return Margins(self.calculator, self.margins)

    @property
    def is_taken_by_itself(self) -> bool:
        """Whether a plan may count on it; nobody knows yet that an unchecked piece is there."""
        return (
            self.verdict in TAKEN_BY_ITSELF
            and self.lot.condition != Condition.UNCHECKED
            and self.is_taken_unasked
        )

    @property
    def is_first_choice(self) -> bool:
        """Whether it is what the answer recommends, and lies in a drawer to be taken."""
        return self.is_recommended and self.is_taken_by_itself and self.reach == 0


@dataclass(frozen=True)
class RefusedPiece:
    """A piece in hand that would not do, and why; `job` has it, if it is promised.

    `but_for_age` is what would be said of one that is refused for nothing but its age.
    """

    lot: Lot
    why: Sentence = Sentence()  # noqa: RUF009 - a descriptor, not a default
    job: str | None = None
    but_for_age: Candidate | None = None


class Judge:
    """Judges pieces for one question: by a calculator's run, by their materials, and by their age.

    `wanted` are the materials that alone are asked for, if any are.
    """

    def __init__(self, work: Work, run: Run, wanted: frozenset[str] = frozenset()) -> None:
        self.suiting = Suiting(work.declared, run.pen_materials, run.materials)
        self._work, self._run, self._wanted = work, run, wanted
        self._settings = present_values(work.session, work.declared)
        self._today = work.now.date()

    def suits(self, kind: str) -> ColumnElement[bool]:
        """Return the condition that a piece is not refused, as far as columns tell it."""
        return _all_of(
            in_date(self._today, self._work.declared, self._settings),
            self.suiting.may_come_near(kind),
            _is_wanted(self._wanted),
        )

    def judge(self, lot: Lot, reach: int = 0) -> Candidate:
        """Return what is said of a piece, whatever it is."""
        age = fit_by(lot, self._work.declared, self._settings)
        return self._judge(lot, age, self._against(lot, age), reach)

    def judge_but_for_age(self, found: Candidate) -> Candidate | None:
        """Return what would be said of a piece that is refused, were it not over age."""
        if not found.fit_by.is_past(self._today):
            return None
        judged = self._judge(found.lot, found.fit_by, self._against(found.lot, FitBy(None)), 0)
        return None if judged.verdict is Verdict.REFUSED else judged

    def _against(self, lot: Lot, age: FitBy) -> Judgement | None:
        """Refuse a piece of a material that nobody wants, or past its date."""
        if self._wanted and (lot.material or _UNKNOWN).lower() not in self._wanted:
            return Judgement(
                Verdict.REFUSED,
                f"it is of {lot.material or 'unknown material'}, and "
                f"{', '.join(sorted(self._wanted))} is wanted",
            )
        if age.is_past(self._today):
            since = "its making" if age.counted_from == "made_on" else "its arrival"
            return Judgement(
                Verdict.REFUSED,
                f"over age: {lot.material} counted from {since} should have been fitted by "
                f"{age.day} (scheme {age.scheme})",
            )
        return None

    def _judge(self, lot: Lot, age: FitBy, against: Judgement | None, reach: int) -> Candidate:
        piece = piece_of(lot)
        judgement = against or self.suiting.with_material(
            _with_condition(lot, self._run.judge(piece)), lot.kind, lot.material
        )
        lead = self._work.declared.kinds[lot.kind].led_by
        return Candidate(
            lot,
            judgement.verdict,
            piece.basis.get(lead, "nominal"),
            judgement.margins,
            judgement.preference,
            age,
            lambda: self._run.why(judgement),
            reach,
            is_recommended=judgement.is_recommended,
            is_taken_unasked=judgement.is_taken_unasked
            and self.suiting.is_taken_unasked(lot.kind, lot.material),
            material_rank=self.suiting.rank(lot.kind, lot.material),
            calculator=self._run.calculator.name,
        )


@lru_cache
def _all_of(*conditions: ColumnElement[bool]) -> ColumnElement[bool]:
    return and_(*conditions)


@lru_cache
def _is_wanted(materials: frozenset[str]) -> ColumnElement[bool]:
    """Return the condition that a piece is of a material that is asked for, if any is."""
    if not materials:
        return true()
    known = func.nullif(Lot.material, "")
    return func.lower(func.coalesce(known, _UNKNOWN)).in_([literal(each) for each in materials])


def judge_lot(work: Work, run: Run, lot: Lot) -> Candidate:
    """Return the verdict on one named lot, whatever it is."""
    return Judge(work, run).judge(lot)


def piece_of(lot: Lot) -> Piece:
    """Return what a calculator is told of a lot."""
    return Piece(
        kind=lot.kind,
        dimensions=lot.dimensions,
        basis=basis(lot),
        material=lot.material,
        material_confidence=lot.material_confidence,
        label=lot.label,
        attributes=lot.attributes,
        spreads=spreads(lot),
    )


def _with_condition(lot: Lot, judgement: Judgement) -> Judgement:
    """Lower the verdict on a piece that has to be looked at before anything is said of it."""
    remark = LOOK_FIRST.get(lot.condition or "")
    if remark is None or judgement.verdict is Verdict.REFUSED:
        return judgement
    verdict = Verdict.TRY_IN if judgement.verdict is Verdict.FITS else judgement.verdict
    return replace(judgement, verdict=verdict, why=lambda: f"{judgement.why}; {remark}")


def rank(candidate: Candidate) -> tuple[Any, ...]:
    """Return what puts the recommended first, then the better, the nearer, and the sooner due."""
    return (*fit_rank(candidate), *age_rank(candidate))


def fit_rank(candidate: Candidate) -> tuple[bool, int, bool, int, bool, int, int, bool]:
    """Return how well a piece fits and how near it lies, whatever its age and its number.

    The material comes before all of it, but a loose piece goes behind those that hold.
    """
    return (
        candidate.verdict is Verdict.LOOSE,
        candidate.material_rank,
        not candidate.is_first_choice,
        ORDER[candidate.verdict],
        candidate.lot.condition == Condition.UNCHECKED,
        candidate.preference,
        candidate.reach,
        candidate.basis != MEASURED,
    )


def age_rank(candidate: Candidate) -> tuple[date, date, int]:
    """Return when a piece is due, when it was made, and its number."""
    made_from = candidate.lot.made_from or date.max
    return candidate.fit_by.day or date.max, made_from, candidate.lot.id
