"""The ladder of an order: what the next amount spent finishes."""

from __future__ import annotations

import math

from sparewell.tonight.ladder import Rung, Wanted, ladder

POSTAGE = 450
PACK_PIECES = 10
PRICE = 300


def _cost(wanted: Wanted) -> int:
    """Packs of ten of each part, and postage once."""
    packs = sum(math.ceil(pieces / PACK_PIECES) for pieces in wanted.values())
    return packs * PRICE + (POSTAGE if packs else 0)


def test_who_costs_nothing_more_stands_on_the_same_rung() -> None:
    """Three pens share a pack of one part; the fourth wants another one, without postage again."""
    wanted = {1: {15: 1}, 2: {15: 1}, 3: {15: 1}, 4: {16: 1}}
    assert ladder(wanted, _cost, _cost) == [
        Rung(750, (1, 2, 3), 750),
        Rung(300, (4,), 1050),
    ]


def test_the_cheapest_pen_comes_first() -> None:
    """A pen that wants two parts waits until the one that wants a single part is finished."""
    wanted = {1: {15: 1, 16: 1}, 2: {17: 1}}
    assert [rung.jobs for rung in ladder(wanted, _cost, _cost)] == [(2,), (1,)]


def test_what_is_made_of_what_is_in_hand_costs_nothing() -> None:
    """A pen that has to buy nothing stands on a first rung of nothing."""
    assert ladder({1: {}, 2: {15: 1}}, _cost, _cost)[0] == Rung(0, (1,), 0)
