"""What is kept of a file that is brought in: its bytes until it counts, and what is wrong in it."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    LARGE_ROWS,
    TABLE_OPTIONS,
    Base,
    Document,
    DocumentList,
    Identity,
    Moment,
    OptionalMoment,
    one_of,
)


class ImportState(StrEnum):
    """How far a file has come."""

    WAITING = "waiting"
    CHECKED = "checked"
    FAULTY = "faulty"
    APPLIED = "applied"
    WITHDRAWN = "withdrawn"


ENDED = (ImportState.APPLIED, ImportState.WITHDRAWN)


class Import(Base):
    """A file that is brought in.

    `content` is kept until it is applied or withdrawn, and so is `ready`: what the rows of a clean
    file become, and what they were checked against. `act_id` is the group of the movements that
    it made; `created` counts what it made. The `progress` columns say how far somebody was who
    checks it, and when; they count for nothing else.
    """

    __tablename__ = "notebook_import"
    __table_args__ = (
        CheckConstraint(one_of("state", ImportState), name="state_known"),
        CheckConstraint(
            f"(content IS NULL) = ({one_of('state', ENDED)})", name="content_until_ended"
        ),
        {**TABLE_OPTIONS, "info": LARGE_ROWS},
    )

    id: Mapped[Identity]
    name: Mapped[str] = mapped_column(String(200))
    of: Mapped[str] = mapped_column(String(20))
    state: Mapped[str] = mapped_column(String(10), index=True)
    content: Mapped[bytes | None] = mapped_column(LargeBinary, deferred=True)
    ready: Mapped[bytes | None] = mapped_column(LargeBinary, deferred=True)
    size_bytes: Mapped[int] = mapped_column(BigInteger)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    options: Mapped[Document]
    columns: Mapped[DocumentList]
    rows: Mapped[int] = mapped_column(BigInteger)
    problems_total: Mapped[int] = mapped_column(BigInteger)
    notices: Mapped[DocumentList]
    created: Mapped[Document]
    act_id: Mapped[int | None] = mapped_column(ForeignKey("act.id"))
    progress_doing: Mapped[str | None] = mapped_column(String(20))
    progress_done: Mapped[int] = mapped_column(BigInteger)
    progress_of: Mapped[int] = mapped_column(BigInteger)
    progress_at: Mapped[OptionalMoment]
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    created_at: Mapped[Moment]
    checked_at: Mapped[OptionalMoment]
    ended_at: Mapped[OptionalMoment]


class ImportProblem(Base):
    """One thing that is wrong in a file, and where; without a row it is the file as a whole."""

    __tablename__ = "notebook_problem"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    import_id: Mapped[int] = mapped_column(ForeignKey("notebook_import.id"), index=True)
    row: Mapped[int | None] = mapped_column(BigInteger)
    column: Mapped[str | None] = mapped_column(String(200))
    cell: Mapped[str | None] = mapped_column(String(20))
    value: Mapped[str | None] = mapped_column(String(200))
    detail: Mapped[str] = mapped_column(String(2000))
    accepted: Mapped[str] = mapped_column(String(1000))
