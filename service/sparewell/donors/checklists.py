"""The order of a checklist: what holds another piece stands before it. Knows no database."""

from __future__ import annotations

from collections.abc import Iterator, Sequence


def holders_first(holders: Sequence[int | None]) -> list[int]:
    """Return the positions of pieces so that each comes after the one that it is fixed in.

    `holders` says of each the position of that one; a ring of pieces fixed in each other is left
    out.
    """
    order: list[int] = []
    left = list(range(len(holders)))
    while left:
        ready = [place for place in left if holders[place] is None or holders[place] in order]
        if not ready:
            break
        order += ready
        left = [place for place in left if place not in ready]
    return order


def nested(holders: Sequence[int | None]) -> Iterator[tuple[int, int]]:
    """Yield how deep each piece is fixed in others, and its position, each after what holds it."""
    below: dict[int | None, list[int]] = {}
    for place, holder in enumerate(holders):
        below.setdefault(holder, []).append(place)
    waiting = [(0, place) for place in reversed(below.get(None, []))]
    while waiting:
        depth, place = waiting.pop()
        yield depth, place
        waiting += [(depth + 1, each) for each in reversed(below.get(place, []))]
