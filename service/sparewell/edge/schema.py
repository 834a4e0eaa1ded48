"""The base of every schema: it speaks in our words, and names what it would accept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields

REQUIRED_SAID = "required"
# What marshmallow says of a kind of field, by its own keys, in our words.
_OUR_WORDS: Mapping[type[fields.Field[Any]], Mapping[str, str]] = {
    fields.Field: {"required": REQUIRED_SAID, "null": "must not be null; leave it out instead"},
    fields.String: {"invalid": "must be a text"},
    fields.List: {"invalid": "must be a list"},
    fields.Boolean: {"invalid": "must be true or false"},
    fields.Integer: {"invalid": "must be a whole number"},
    fields.Mapping: {"invalid": "must be an object"},
}


def _in_our_words(field: fields.Field[Any]) -> None:
    """Replace what marshmallow would say of a field, and of what a list holds."""
    for kind, words in _OUR_WORDS.items():
        if isinstance(field, kind):
            theirs = kind.default_error_messages
            field.error_messages |= {
                key: said for key, said in words.items() if field.error_messages[key] == theirs[key]
            }
    if isinstance(field, fields.List):
        _in_our_words(field.inner)


class Schema(ma.Schema):
    """A schema that names what it would accept when it meets a member it does not know."""

    class Meta:
        """Unknown members are refused, in the order they came."""

        unknown = ma.RAISE

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        accepted = sorted(field.data_key or name for name, field in self.load_fields.items())
        known = f"accepted: {', '.join(accepted)}" if accepted else "nothing is accepted"
        self.error_messages = {
            **self.error_messages,
            "unknown": f"not known here; {known}",
            "type": f"must be an object; {known}",
        }

    def on_bind_field(self, _field_name: str, field_obj: fields.Field[Any]) -> None:
        """Speak of every field in our words."""
        _in_our_words(field_obj)


class Empty(Schema):
    """A body without members: `{}` or nothing at all."""
