"""Reading a hundred thousand rows as the schema of one does; what was read once is known.

Columns of a notebook say the same few things over and over, and a schema takes its time with each.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import marshmallow as ma

MOST_REMEMBERED = 10_000


class Remembered(dict[Any, Any]):
    """What a function returned, by what it was asked. It must depend on nothing else."""

    def __init__(self, asked: Callable[[Any], Any]) -> None:
        super().__init__()
        self._ask = asked

    def __missing__(self, question: Any) -> Any:
        """Ask, and remember the answer while there is room."""
        answer = self._ask(question)
        if len(self) < MOST_REMEMBERED:
            self[question] = answer
        return answer


class RowReader:
    """Loads rows as a schema does.

    A row that is not plain is left to the schema itself, and so is every refusal.
    """

    def __init__(self, schema: ma.Schema) -> None:
        self._schema = schema
        self._is_plain = not any(schema._hooks.values())  # noqa: SLF001 - it has no public name
        self._fields = {name: _remembered(each) for name, each in schema.load_fields.items()}

    def load(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """Return what a row says. Raises marshmallow's ValidationError."""
        if self._is_plain and values.keys() <= self._fields.keys():
            try:
                return self._read(values)
            except (ma.ValidationError, TypeError):
                pass  # the schema says it with every other fault of the row
        loaded: dict[str, Any] = self._schema.load(values)
        return loaded

    def _read(self, values: Mapping[str, Any]) -> dict[str, Any]:
        read = {}
        for name, known in self._fields.items():
            said = values.get(name, ma.missing)
            value = known[tuple(said.items()) if isinstance(said, dict) else said]
            if value is not ma.missing:
                read[name] = value
        return read


def _remembered(field: ma.fields.Field[Any]) -> Remembered:
    """Return what a field reads; a map is asked for as its members, which can be compared."""
    return Remembered(
        lambda said: field.deserialize(dict(said) if isinstance(said, tuple) else said)
    )
