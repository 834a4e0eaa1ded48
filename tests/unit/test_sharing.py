"""Sharing pieces out: by trying all there are, and by somebody else's matching."""

from __future__ import annotations

from typing import Any

import pytest

from sparewell.plans.plain_rule import share_out
from sparewell.plans.sharing import (
    Asking,
    Movable,
    Option,
    Share,
    Want,
    Weight,
    Workshop,
    fault_of,
    levels_of,
)
from sparewell.tonight import solver
from sparewell.tonight.solver import best_share
from support.workshops import amounts, best_by_trying, dice_of, small_workshop

WORKSHOPS = 60
MANY = 2000


@pytest.mark.parametrize(
    "workshops", [WORKSHOPS, pytest.param(MANY, marks=[pytest.mark.rest])], ids=["some", "many"]
)
def test_the_solver_finds_what_trying_all_finds(workshops: int) -> None:
    """In small workshops at random the proven share is worth as much as the best of all shares."""
    for seed in range(workshops):
        workshop = small_workshop(seed)
        chosen = best_share(workshop)
        assert chosen.is_proven, seed
        assert fault_of(workshop, chosen.share) is None, seed
        assert amounts(workshop, chosen.share) == best_by_trying(workshop), seed


def test_the_plain_rule_makes_shares_that_can_be_carried_out() -> None:
    """Whatever the workshop, what it gives away is there, and nobody gets half of what it lacks."""
    for seed in range(MANY):
        workshop = small_workshop(seed)
        assert fault_of(workshop, share_out(workshop)) is None, seed


def _one_piece_each(seed: int) -> Workshop:
    dice = dice_of(seed)
    lots = range(1, dice.randint(2, 30))
    askings = [
        Asking(
            job,
            ((Want(job, 1, tuple(Option(lot) for lot in lots if dice.random() < 0.15)),),),
        )
        for job in range(1, dice.randint(2, 40))
    ]
    return Workshop(tuple(askings), dict.fromkeys(lots, 1), weight=Weight.COUNT)


def test_where_each_lacks_one_piece_both_are_a_maximum_matching() -> None:
    """As many pens as a maximum matching of scipy, by the solver and by the plain rule alike."""
    sparse: Any = pytest.importorskip("scipy.sparse")
    graphs: Any = pytest.importorskip("scipy.sparse.csgraph")
    for seed in range(100):
        workshop = _one_piece_each(seed)
        wide = max(workshop.free) + 1
        matrix = sparse.lil_matrix((len(workshop.askings), wide), dtype=int)
        for row, asking in enumerate(workshop.askings):
            for option in asking.ways[0][0].options:
                matrix[row, option.lot] = 1
        matched = graphs.maximum_bipartite_matching(matrix.tocsr(), perm_type="column")
        most = sum(column >= 0 for column in matched)
        assert len(share_out(workshop).ways) == most, seed
        assert len(best_share(workshop).share.ways) == most, seed


def test_greed_would_lose_two_pens() -> None:
    """Who takes the best first leaves two without; both ways of sharing finish all three."""
    wants = {1: (1, 2), 2: (1,), 3: (2, 3)}
    askings = tuple(
        Asking(job, ((Want(job, 1, tuple(Option(lot, rank) for rank, lot in enumerate(lots))),),))
        for job, lots in wants.items()
    )
    workshop = Workshop(askings, {1: 1, 2: 1, 3: 1})
    assert set(share_out(workshop).ways) == {1, 2, 3}
    assert set(best_share(workshop).share.ways) == {1, 2, 3}


def test_an_undated_pen_leaves_the_last_piece_that_a_dated_one_fits() -> None:
    """The dated pen waits for something else; its sac is left for it all the same."""
    want = (Want(1, 1, (Option(9),)),)
    dated = Asking(1, (want,), promised_on=700, waits=True)
    other = Asking(2, ((Want(2, 1, (Option(9),)),),))
    workshop = Workshop((dated, other), {9: 1})
    assert best_share(workshop).share == Share(kept={(1, 9): 1})
    assert set(best_share(Workshop((dated, other), {9: 2})).share.ways) == {2}


def test_fewer_promises_move_before_pieces_fit_better() -> None:
    """A piece that fits less well is taken rather than one that somebody has to give way for."""
    asking = Asking(1, ((Want(1, 1, (Option(8, rank=0), Option(9, rank=3))),),))
    held = Movable(5, 2, 2, lot=8, pieces=1, options=(Option(7),))
    share = best_share(Workshop((asking,), {7: 1, 9: 1}, (held,))).share
    assert share == Share({1: 0}, {(1, 9): 1})


def test_without_the_solver_the_plain_rule_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is claimed to be proven, and it says which extra brings the solver."""
    monkeypatch.setattr(solver, "is_installed", lambda: False)
    chosen = best_share(small_workshop(1))
    assert not chosen.is_proven
    assert "sparewell[optimise]" in chosen.how


def test_an_evening_out_of_time_says_how_far_off_it_may_be() -> None:
    """With no time at all the plain rule's share stands, unproven, and where it stopped is said."""
    moments = iter(range(0, 10_000, 10))
    workshop = _one_piece_each(3)
    chosen = best_share(workshop, 5.0, lambda: float(next(moments)))
    assert not chosen.is_proven
    assert chosen.how.startswith("an integer programme, stopped after 5 seconds at: ")
    assert fault_of(workshop, chosen.share) is None
    assert [level.amount for level in levels_of(workshop, chosen.share)] == [
        level.amount for level in levels_of(workshop, share_out(workshop))
    ]
