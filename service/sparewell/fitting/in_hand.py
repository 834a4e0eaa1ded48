"""The pieces in hand that many needs could take, looked up for all of them at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

from sqlalchemy import ColumnElement, select

from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Envelope, Range
from sparewell.fitting import at_hand
from sparewell.fitting.judging import Judge
from sparewell.lots import search
from sparewell.lots.tables import Lot
from sparewell.work import Work

A_FEW = 5
_IN_DRAWER = Lot.donor_id.is_(None) & Lot.condition.is_(None)
_Key = tuple[str, int, frozenset[tuple[str, Range]], tuple[tuple[str, ...], ...]]


@dataclass(frozen=True)
class Asked:
    """What sizes a need, what would fit it, and who judges pieces for it."""

    run: Run
    envelope: Envelope
    judge: Judge

    @classmethod
    def of(cls, work: Work, run: Run) -> Self:
        """Return what a run asks for. Raises what the calculator raises."""
        return cls(run, run.envelope(), Judge(work, run))

    @property
    def conditions(self) -> tuple[ColumnElement[bool], ...]:
        """The conditions that a plan may count on a piece, as far as columns tell it."""
        kind = self.envelope.kind
        in_order = self.judge.suiting.in_order(kind)
        return self.judge.suits(kind), *(() if in_order is None else (in_order,))

    @property
    def key(self) -> _Key:
        """What makes two searches the same one."""
        materials = (tuple(self.run.pen_materials), tuple(self.run.materials))
        envelope = self.envelope
        return envelope.kind, envelope.ideal, frozenset(envelope.ranges.items()), materials


class PiecesInHand:
    """The pieces in hand near what many needs want, looked up for all of them at once."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._lots: dict[int, Lot] = {}

    def nearby(self, asked: Sequence[Asked]) -> list[Sequence[Lot]]:
        """Return for each a few lots in drawers just beside the ideal."""
        return self._found(asked, A_FEW, _IN_DRAWER)

    def everywhere(self, asked: Sequence[Asked]) -> list[Sequence[Lot]]:
        """Return for each all that a plan looks at, drawers first.

        What has a piece fixed in it that is promised is not among them.
        """
        found = self._found(asked, search.MOST_JUDGED)
        of_donors = {lot.id: lot for lots in found for lot in lots if lot.donor_id is not None}
        promised = at_hand.promised_inside(self._work.session, of_donors.values())
        taken = {lot_id for lot_id, *_ in promised}
        return [
            sorted(
                (lot for lot in lots[: search.MOST_JUDGED] if lot.id not in taken),
                key=lambda lot: lot.donor_id is not None,
            )
            for lots in found
        ]

    def _found(
        self, asked: Sequence[Asked], most: int, *also: ColumnElement[bool]
    ) -> list[Sequence[Lot]]:
        """Return the nearest for each; those who ask the same are answered together."""
        searches = {each.key: self._search(each, *also) for each in asked}
        found = search.nearest_of_each(self._work.session, list(searches.values()), most)
        new = {lot_id for each in found for lot_id in each}.difference(self._lots)
        lots = self._work.session.scalars(select(Lot).where(Lot.id.in_(new))) if new else ()
        self._lots |= {lot.id: lot for lot in lots}
        by_key = dict(zip(searches, found, strict=True))
        return [[self._lots[lot_id] for lot_id in by_key[each.key]] for each in asked]

    def _search(self, asked: Asked, *also: ColumnElement[bool]) -> search.Sought:
        kind = asked.envelope.kind
        return search.Sought(
            kind,
            self._work.declared.kinds[kind].led_by,
            asked.envelope.ideal,
            asked.envelope.ranges,
            (*also, *asked.conditions),
        )
