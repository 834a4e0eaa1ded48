"""Settings that a workshop changed; one that was never changed has no row."""

from __future__ import annotations

from sqlalchemy import JSON, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import TABLE_OPTIONS, Base, Identity, Moment


class SettingChange(Base):
    """One change of a setting; the latest holds, the earlier ones are its history."""

    __tablename__ = "setting_change"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    name: Mapped[str] = mapped_column(String(110), index=True)
    value: Mapped[str | int | bool | list[int] | None] = mapped_column(JSON)
    entered: Mapped[str] = mapped_column(String(200))
    why: Mapped[str] = mapped_column(String(2000))
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    at: Mapped[Moment]
