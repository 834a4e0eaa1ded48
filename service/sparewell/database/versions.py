"""Versions: a number on a row that rises with every fact that something is worked out from.

What takes long is worked out with nothing locked; then, under the lock, the versions of all that
it rests on are compared. A row that is :class:`Versioned` is such a ground, and a :class:`Fact` is
a row that says more of one: a need of its job, a reading of its pen. Balances are no facts: they
are decided under the lock, by the statement that moves them.

This is the one place that raises a version, so facts are changed through a session only.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any, ClassVar

from sqlalchemy import BigInteger, event, inspect, text, update
from sqlalchemy.orm import Mapped, Session, UOWTransaction, mapped_column


class Versioned:
    """A row with facts that others work with; the columns of `NO_FACTS` are none."""

    NO_FACTS: ClassVar[frozenset[str]] = frozenset()

    if TYPE_CHECKING:
        id: Mapped[int]
    version: Mapped[int] = mapped_column(BigInteger, default=1, server_default=text("1"))


class Fact:
    """A row that says something of a versioned one."""

    def is_of(self) -> tuple[type[Versioned], Any]:
        """Return what it says something of, and the id of that row, or what selects it."""
        raise NotImplementedError


@event.listens_for(Session, "after_flush")
def _raise_versions(session: Session, _context: UOWTransaction) -> None:
    """Raise the version of every row of which a fact was just written."""
    told: defaultdict[type[Versioned], list[Any]] = defaultdict(list)
    for row in session.dirty:
        if isinstance(row, Versioned) and _has_new_facts(row):
            told[type(row)].append(row.id)
    for row in (*session.new, *session.dirty, *session.deleted):
        if isinstance(row, Fact):
            owner, row_id = row.is_of()
            told[owner].append(row_id)
    new = {(type(row), row.id) for row in session.new if isinstance(row, Versioned)}
    for owner, row_ids in told.items():
        raised = {row_id for row_id in row_ids if (owner, row_id) not in new}
        if raised:
            raises = update(owner).where(owner.id.in_(raised)).values(version=owner.version + 1)
            session.execute(raises)


def _has_new_facts(row: Versioned) -> bool:
    state: Any = inspect(row)
    return any(
        state.attrs[column.key].history.has_changes()
        for column in state.mapper.column_attrs
        if column.key not in row.NO_FACTS
    )
