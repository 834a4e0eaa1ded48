"""What must hold of promises that move aside, whatever the history: oracles like the others."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from support.history import Event, Final, History


def what_moved_was_replaced(history: History, final: Final) -> Iterator[str]:
    """Each promise that moved ended as a whole, and another took its place as it was told."""
    told = {each["reservation"]: each for effect in history.effects for each in effect.moved}
    for number, row in final.reservations.items():
        if row["settled"] and number not in told:
            yield f"nobody was told that this moved: {dict(row)}"
    for effect in history.effects:
        for each in effect.moved:
            yield from _replaced(effect, each, final)


def _replaced(effect: Event, each: Any, final: Final) -> Iterator[str]:
    before = final.reservations.get(each["reservation"])
    after = final.reservations.get(each["moved_to"])
    if before is None or after is None:
        yield f"{effect.path} was told to have moved {each}, and that is not there"
        return
    same = ("job", "need", "quantity", "note", "person", "expires_at")
    if before["settled"] != before["quantity"] or before["moved_to"] != after["id"]:
        yield f"{effect.path} moved {each}, and that did not end: {dict(before)}"
    if [before[name] for name in same] != [after[name] for name in same] or before is after:
        yield f"{effect.path} moved {dict(before)}, and in its place is {dict(after)}"
    where = (before["lot"], after["lot"], before["moved_for"])
    wanted_by = each["moved_for"] if effect.name == "tonight" else effect.target
    if where != (each["lot"], each["to_lot"], wanted_by):
        yield f"{effect.path} was told to have moved {each}, and it is {where}"


def what_is_pinned_stays(history: History, _final: Final) -> Iterator[str]:
    """No promise moves that was pinned as it was made, or later, and that nobody let go again."""
    made = {row["id"]: row for effect in history.promising for row in effect.reserved}
    for effect in history.effects:
        for each in effect.moved:
            said = history.pins.get(str(each["reservation"]), [])
            if any(not event.body["pinned"] and event.sent < effect.answered for event in said):
                continue
            is_pinned = made.get(each["reservation"], {}).get("pinned", False) or any(
                event.status == 200 and event.answered < effect.sent for event in said
            )
            if is_pinned:
                yield f"{effect.path} moved a promise that was pinned: {each}"
