"""The least order as an integer programme, solved by HiGHS where the extra `optimise` is installed.

For each offer and each of its breaks there is a whole number of packs and a yes or no, for each
supplier a yes or no of ordering there, and one of reaching free postage. Each offer takes at most
one break; a break's packs lie between its bounds; what is wanted is covered; goods reach the
supplier's minimum where anything is ordered there. What is least is the goods and the postage. The
answer is rounded to whole packs and reckoned again in whole minor units, and if it is then no order
the plain rule stands.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sparewell.reorder.choices import Choice, ChosenPacks, Pack, Question, cost_of, fault_of

TIME_LIMIT_SECONDS: Final = 2.0
EXTRA: Final = "optimise"


def is_installed() -> bool:
    """Whether the solver is here."""
    return importlib.util.find_spec("highspy") is not None


@dataclass
class _Columns:
    """The solver's unknowns: packs by offer and break, and the suppliers ordered from."""

    packs: dict[tuple[int, int], Any]
    breaks: dict[tuple[int, int], Any]
    ordered: dict[int, Any]
    free: dict[int, Any]


def solve(question: Question, fallback: Choice) -> ChosenPacks | None:
    """Return the least order, or None where the solver found none that is one.

    Within the time limit it is proven to be the least; a gap says by how much it may be off.
    """
    import highspy  # noqa: PLC0415 - an extra, and slow to load

    solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.silent()
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("time_limit", TIME_LIMIT_SECONDS)
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", 0.5)  # amounts are whole, so half a unit is none
    columns = _columns(solver, question)
    _constrain(solver, question, columns)
    solver.minimize(_total(solver, question, columns))
    if solver.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    values = solver.getSolution().col_value
    choice = _chosen(columns.packs, values)
    if fault_of(question, choice) is not None:
        return None
    if fault_of(question, fallback) is None and cost_of(question, fallback) < cost_of(
        question, choice
    ):
        choice = dict(fallback)
    is_proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    gap = 0.0 if is_proven else float(solver.getInfo().mip_gap)
    how = (
        "an integer programme, proven to be the least"
        if is_proven
        else f"an integer programme, stopped after {TIME_LIMIT_SECONDS:.0f} seconds"
    )
    return ChosenPacks(choice, is_proven, gap, how)


def _chosen(packs: Mapping[tuple[int, int], Any], values: Any) -> dict[int, int]:
    choice: dict[int, int] = {}
    for (offer, _), column in packs.items():
        count = round(values[column.index])
        if count:
            choice[offer] = choice.get(offer, 0) + count
    return choice


def _columns(solver: Any, question: Question) -> _Columns:
    packs, breaks = {}, {}
    for pack in question.packs:
        for place, (_, high) in enumerate(_bounds(question, pack)):
            packs[pack.id, place] = solver.addIntegral(lb=0, ub=high)
            breaks[pack.id, place] = solver.addBinary()
    return _Columns(
        packs,
        breaks,
        {shop: solver.addBinary() for shop in question.shops},
        {
            shop.id: solver.addBinary()
            for shop in question.shops.values()
            if shop.free_from is not None
        },
    )


def _bounds(question: Question, pack: Pack) -> list[tuple[int, int]]:
    """Return the fewest and the most packs of each break; one that cannot be has none."""
    most = question.most_packs(pack)
    ends = [least - 1 for least, _ in pack.breaks[1:]] + [most]
    return [
        (max(least, pack.least_packs), min(end, most))
        for (least, _), end in zip(pack.breaks, ends, strict=True)
    ]


def _goods(solver: Any, question: Question, columns: _Columns, shop_id: int) -> Any:
    return solver.qsum(
        columns.packs[pack.id, place] * price
        for pack in question.packs
        if pack.shop == shop_id
        for place, (_, price) in enumerate(pack.breaks)
    )


def _constrain(solver: Any, question: Question, columns: _Columns) -> None:
    for part, pieces in question.wanted.items():
        brought = solver.qsum(
            columns.packs[pack.id, place] * pack.pieces
            for pack in question.sold(part)
            for place in range(len(pack.breaks))
        )
        solver.addConstr(brought >= pieces)
    for pack in question.packs:
        chosen = []
        for place, (low, high) in enumerate(_bounds(question, pack)):
            count, is_it = columns.packs[pack.id, place], columns.breaks[pack.id, place]
            chosen.append(is_it)
            if low > high:
                solver.addConstr(1.0 * is_it <= 0)
            solver.addConstr(count - is_it * max(high, 0) <= 0)
            solver.addConstr(count - is_it * low >= 0)
        solver.addConstr(solver.qsum(chosen) - columns.ordered[pack.shop] <= 0)
    for shop in question.shops.values():
        goods, ordered = _goods(solver, question, columns, shop.id), columns.ordered[shop.id]
        if shop.minimum:
            solver.addConstr(goods - ordered * shop.minimum >= 0)
        if shop.id in columns.free:
            is_free = columns.free[shop.id]
            solver.addConstr(goods - is_free * (shop.free_from or 0) >= 0)
            solver.addConstr(is_free - ordered <= 0)


def _total(solver: Any, question: Question, columns: _Columns) -> Any:
    goods = solver.qsum(_goods(solver, question, columns, shop_id) for shop_id in question.shops)
    postage = solver.qsum(
        columns.ordered[shop.id] * shop.postage - columns.free[shop.id] * shop.postage
        if shop.id in columns.free
        else columns.ordered[shop.id] * shop.postage
        for shop in question.shops.values()
    )
    return goods + postage
