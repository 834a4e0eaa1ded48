"""One description of a thing: each of its fields once, and where that takes part. Pure marshmallow.

    class DrawerDescription(Description):
        code = Described(identifier_text(40), new=REQUIRED, export="code")
        note = Described(SeveralLines(empty_allowed=True), new="", change=True, export="note")
        created_at = Described(Moment())

    NewDrawerSchema, ChangedDrawerSchema, DrawerSchema = DrawerDescription.schemas("Drawer")

The three schemas read what is sent for a new thing, read a change of it, and write what is shown of
it. An import takes columns as the fields that have a `column`; an export heads one with `export`;
whoever splits a thing asks `columns_split` what becomes of each column of the database.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, field
from dataclasses import fields as members_of
from enum import StrEnum
from typing import Any, ClassVar, Final, Self

from marshmallow import fields

from sparewell.edge.fields import Text
from sparewell.edge.schema import Schema

AnyField = fields.Field[Any]


class Split(StrEnum):
    """What becomes of a field where some pieces become a thing of their own."""

    COPY = "copy"
    SHARE = "share"
    DROP = "drop"


class _Say(StrEnum):
    REQUIRED = "required"
    OPTIONAL = "optional"
    NEVER = "never"


REQUIRED: Final = _Say.REQUIRED
OPTIONAL: Final = _Say.OPTIONAL
NEVER: Final = _Say.NEVER


@dataclass(frozen=True)
class Heading:
    """A column of somebody's spreadsheet: what it says, and the words that people head it with.

    `remark` is said where the column was guessed; `choice` is what one of a few words is called.
    """

    title: str
    words: tuple[str, ...] = ()
    remark: str = ""
    choice: str = ""


@dataclass(frozen=True)
class Described:
    """One field of a thing.

    `new`: REQUIRED, OPTIONAL, NEVER, or the value of who says nothing. `change`: whether it may be
    changed, or the field that reads a change where that differs. `shown`: whether it is sent, or
    the field that does. `nullable`: whether null is shown, and may be sent to change it. `column`
    is its heading in a spreadsheet that is brought in, `export` in a list that is taken out; a map
    of dimensions has a column for each. `kept` are the columns of the database, where they are not
    called like the field. `read` is what is shown, such as "place.code", where that is not the one
    column. `asked` is its label in a form where it is changed, with a `hint`.
    """

    field: AnyField
    new: Any = NEVER
    change: bool | AnyField = False
    shown: bool | AnyField = True
    nullable: bool = False
    column: Heading | None = None
    export: str = ""
    on_split: Split = Split.DROP
    kept: tuple[str, ...] = ()
    read: str = ""
    asked: str = ""
    hint: str = ""

    @property
    def in_new(self) -> AnyField | None:
        """The field that reads it of a new thing."""
        if self.new is NEVER:
            return None
        read = copy.deepcopy(self.field)
        read.required = self.new is REQUIRED
        if not isinstance(self.new, _Say):
            read.load_default = self.new
            read.allow_none = read.allow_none or self.new is None
        return read

    @property
    def in_change(self) -> AnyField | None:
        """The field that reads a change of it."""
        if self.change is False:
            return None
        read = copy.deepcopy(self.field if self.change is True else self.change)
        read.allow_none = read.allow_none or self.nullable
        return read

    @property
    def in_shown(self) -> AnyField | None:
        """The field that writes it; what is shown was checked before it was kept."""
        if self.shown is False:
            return None
        written = _plain(self.field) if self.shown is True else copy.deepcopy(self.shown)
        written.required = True
        written.allow_none = written.allow_none or self.nullable
        written.attribute = self.path or None
        return written

    @property
    def path(self) -> str:
        """What is read off a row to show it; empty where that is called like the field."""
        return self.read or (self.kept[0] if len(self.kept) == 1 else "")


def read_path(thing: Any, path: str) -> Any:
    """Return what a path such as "place.code" leads to; nothing has nothing behind it.

    What was derived stands on what is handed out, all else on its row.
    """
    for step in path.split("."):
        if thing is None:
            return None
        if isinstance(thing, Mapping):
            thing = thing[step]
        else:
            thing = getattr(thing if hasattr(thing, step) else thing.row, step)
    return thing


def _plain(field: AnyField) -> AnyField:
    """Return a field without what only matters to one that reads."""
    said = {key: text for key, text in field.metadata.items() if key == "description"}
    if isinstance(field, Text):
        return fields.String(metadata=said)
    if isinstance(field, fields.Integer):
        return fields.Integer(metadata=said)
    if isinstance(field, fields.List):
        return fields.List(_plain(field.inner), metadata=said)
    return copy.deepcopy(field)


class ShownSchema(Schema):
    """What is shown of a row, or of what is handed out with it."""

    def get_attribute(self, obj: Any, attr: str, default: Any) -> Any:  # noqa: ARG002 - marshmallow's
        """Return a member; one that is nowhere is a mistake of ours, so it fails."""
        return read_path(obj, attr)


class Description:
    """What a thing is: subclasses hold one :class:`Described` for each field, in their order."""

    described: ClassVar[Mapping[str, Described]] = {}

    def __init_subclass__(cls) -> None:
        """Collect the fields, those of the base first."""
        own = {name: each for name, each in vars(cls).items() if isinstance(each, Described)}
        cls.described = {**cls.described, **own}

    @classmethod
    def schemas(cls, name: str) -> tuple[type[Schema], type[Schema], type[Schema]]:
        """Return the schemas that read a new thing, read a change of it, and show it."""
        return cls.new_schema(f"New{name}"), cls.change_schema(f"Changed{name}"), cls.shows(name)

    @classmethod
    def new_schema(cls, name: str) -> type[Schema]:
        """Return the schema that reads a new thing."""
        return _schema(Schema, name, {key: each.in_new for key, each in cls.described.items()})

    @classmethod
    def change_schema(cls, name: str) -> type[Schema]:
        """Return the schema that reads a change of a thing."""
        return _schema(Schema, name, {key: each.in_change for key, each in cls.described.items()})

    @classmethod
    def shows(cls, name: str) -> type[Schema]:
        """Return the schema that shows a thing."""
        every = cls.described.items()
        return _schema(ShownSchema, name, {key: each.in_shown for key, each in every})

    @classmethod
    def kept_as(cls, name: str) -> str:
        """Return the column of the database that keeps a field."""
        return (cls.described[name].kept or (name,))[0]

    @classmethod
    def columns_split(cls, fate: Split) -> list[str]:
        """Return the columns of the database that share one fate where a thing is split."""
        return [
            column
            for name, each in cls.described.items()
            if each.on_split == fate
            for column in each.kept or (name,)
        ]


@dataclass(frozen=True, kw_only=True)
class NewThing:
    """What is said of a new thing: subclasses name what operations act on.

    `plain` is what is only kept, by the names of the columns.
    """

    plain: Mapping[str, Any] = field(default_factory=dict)

    @classmethod
    def said(cls, body: Mapping[str, Any]) -> Self:
        """Return what a body says that the schema of a new thing has read."""
        known = {each.name for each in members_of(cls)}
        plain = {name: value for name, value in body.items() if name not in known}
        return cls(**{name: body[name] for name in body if name in known}, plain=plain)


def _schema(base: type[Schema], name: str, members: Mapping[str, AnyField | None]) -> type[Schema]:
    present = {key: field for key, field in members.items() if field is not None}
    return type(f"{name}Schema", (base,), present)
