"""The numbers of the trade that a workshop may change: reading them, and changing one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, func, select, text
from sqlalchemy.orm import Session

from sparewell.errors import Impossible, NotFound
from sparewell.extend.fields import FieldType, Setting, Value
from sparewell.extend.host import Declarations
from sparewell.extend.inputs import SettingValues
from sparewell.extend.settings import shown, unit_of
from sparewell.extend.values import ValueRefused, read_setting
from sparewell.settings.tables import SettingChange
from sparewell.work import Work

# It is asked by every request that reads a setting, so it is put together once.
_LATEST = select(
    SettingChange.id,
    SettingChange.name,
    SettingChange.value,
    SettingChange.actor,
    SettingChange.person,
    SettingChange.at,
    SettingChange.why,
).where(SettingChange.id.in_(select(func.max(SettingChange.id)).group_by(SettingChange.name)))
_READ, _VERSION = "settings", "version of the settings"


@dataclass(frozen=True)
class SettingState:
    """A setting, its present value, and the change that brought it there, if any."""

    setting: Setting
    value: Value | None
    changed_by: str | None = None
    person: str | None = None
    changed_at: datetime | None = None
    why: str | None = None

    @property
    def shown_value(self) -> object:
        """The present value as JSON has it."""
        return shown(self.setting, self.value)

    @property
    def default(self) -> object:
        """The value of a workshop that has not changed it."""
        return shown(self.setting, self.setting.default)

    @property
    def unit(self) -> str:
        """The unit in which it is shown."""
        return unit_of(self.setting)


def present_settings(session: Session, declared: Declarations) -> dict[str, SettingState]:
    """Return every setting of the loaded plugins, by name; a unit of work reads them once."""
    found: dict[str, SettingState] | None = session.info.get(_READ)
    if found is None:
        found = session.info[_READ] = _read(session, declared)
    return found


def _read(session: Session, declared: Declarations) -> dict[str, SettingState]:
    changes = {change.name: change for change in session.connection().execute(_LATEST)}
    session.info[_VERSION] = max((change.id for change in changes.values()), default=0)
    return {name: _state(setting, changes.get(name)) for name, setting in declared.settings.items()}


def present_version(session: Session, declared: Declarations) -> int:
    """Return the version of all settings together: the latest change there was of any."""
    present_settings(session, declared)
    version: int = session.info[_VERSION]
    return version


def present_values(session: Session, declared: Declarations) -> SettingValues:
    """Return the present value of every setting, by name."""
    states = present_settings(session, declared)
    return SettingValues({name: state.value for name, state in states.items()})


def one_setting(session: Session, declared: Declarations, name: str) -> SettingState:
    """Return one setting. Raises :class:`NotFound`."""
    states = present_settings(session, declared)
    if name not in states:
        raise NotFound(f"there is no setting {name!r}; GET /v1/settings lists them")
    return states[name]


def lock_settings(session: Session) -> None:
    """Let one change of a setting happen at a time; on SQLite every writer is alone already."""
    session.info.pop(_READ, None)
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("LOCK TABLE setting_change IN SHARE ROW EXCLUSIVE MODE"))


def change_setting(work: Work, name: str, raw: object, why: str) -> SettingState:
    """Change one setting, with the reason. Raises :class:`NotFound`, :class:`Impossible`."""
    setting = work.declared.settings.get(name)
    if setting is None:
        raise NotFound(f"there is no setting {name!r}; GET /v1/settings lists them")
    try:
        value = read_setting(setting, raw)
    except ValueRefused as error:
        raise Impossible.at("/value", str(error)) from error
    stored = list(value) if isinstance(value, tuple) else value
    if isinstance(value, Decimal):
        stored = str(value)
    work.session.add(
        SettingChange(
            name=name,
            value=stored,
            entered=str(raw)[:200],
            why=why,
            actor=work.actor.token,
            person=work.actor.person,
            at=work.now,
        )
    )
    work.session.flush()
    work.session.info.pop(_READ, None)
    return one_setting(work.session, work.declared, name)


def _state(setting: Setting, change: Row[*tuple[Any, ...]] | None) -> SettingState:
    if change is None:
        return SettingState(setting, setting.default)
    value: Value | None = tuple(change.value) if isinstance(change.value, list) else change.value
    if setting.type is FieldType.NUMBER and value is not None:
        value = Decimal(str(value))
    return SettingState(setting, value, change.actor, change.person, change.at, change.why)
