"""The order of a checklist: what holds another piece stands before it."""

from __future__ import annotations

from sparewell.donors.checklists import holders_first, nested


def test_what_holds_another_comes_first() -> None:
    """A clip noted before its cap, and the ball on that clip, come after what they are fixed in."""
    assert holders_first([1, None, 0]) == [1, 0, 2]


def test_a_ring_of_pieces_is_left_out() -> None:
    """Two pieces that would hold each other are in no order; the others are."""
    assert holders_first([1, 0, None]) == [2]


def test_each_piece_stands_below_what_holds_it() -> None:
    """Depth counts the pieces around it, and those of one holder keep their order."""
    assert list(nested([None, 0, 0, 1, None])) == [(0, 0), (1, 1), (2, 3), (1, 2), (0, 4)]
