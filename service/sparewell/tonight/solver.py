"""The best share, proven, by HiGHS, where the extra `optimise` is installed.

Level after level is made as much of as can be; what was reached binds all that come after it.
Levels whose amounts stay small together are weighed into one, which is exact: the weights are whole
and each is larger than all that comes after it can amount to. The answer is rounded to whole pieces
and reckoned again, and if it is then no share the plain rule stands.
"""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable, Iterator, Sequence
from math import isfinite
from typing import Any, Final

from sparewell.plans.plain_rule import share_out
from sparewell.plans.sharing import ChosenShare, Share, Workshop, better, fault_of, levels_of
from sparewell.tonight.programme import Programme, Terms, levels_in, programme_of

EXTRA: Final = "optimise"
TIME_LIMIT_SECONDS: Final = 5.0
_HEAVIEST: Final = 20_000  # beyond it the solver's tolerances could hide a whole one
_PLAIN: Final = "a plain rule: job by job, and whoever has a piece gives way where it can"

Levels = list[tuple[str, Terms]]


def is_installed() -> bool:
    """Whether the solver is here."""
    return importlib.util.find_spec("highspy") is not None


def best_share(
    workshop: Workshop,
    seconds: float = TIME_LIMIT_SECONDS,
    stopwatch: Callable[[], float] = time.monotonic,
) -> ChosenShare:
    """Return the best share that is found in time, and whether it is proven to be the best."""
    end = stopwatch() + seconds
    plain = share_out(workshop)
    if not is_installed():
        how = f"{_PLAIN}; pip install 'sparewell[{EXTRA}]' brings the solver"
        return ChosenShare(plain, is_proven=False, gap=None, how=how)
    return _Solver(workshop, plain).solve(lambda: end - stopwatch(), seconds)


class _Solver:
    def __init__(self, workshop: Workshop, plain: Share) -> None:
        self._workshop, self._best = workshop, plain
        self._programme = programme_of(workshop)
        self._highs = _loaded(self._programme)

    def solve(self, left: Callable[[], float], seconds: float) -> ChosenShare:
        """Solve level after level while there is time."""
        for levels in _packed(self._programme, levels_in(self._programme)):
            if not self._is_reached(levels):
                is_proven, gap = self._solve(levels, left()) if left() > 0 else (False, None)
                if not is_proven:
                    names = " and ".join(name for name, _ in levels)
                    how = f"an integer programme, stopped after {seconds:g} seconds at: {names}"
                    return ChosenShare(self._best, is_proven=False, gap=gap, how=how)
            self._bind(levels)
        how = "an integer programme, proven to be the best"
        return ChosenShare(self._best, is_proven=True, gap=0.0, how=how)

    def _solve(self, levels: Levels, seconds: float) -> tuple[bool, float | None]:
        """Solve some levels; return whether that was proven, else how far it is off at most."""
        import highspy  # noqa: PLC0415 - an extra, and slow to load

        solver, count = self._highs, len(self._programme.highest)
        # A first guess is not handed on: version 1.16 then told the guess as if it were the best.
        solver.clearSolver()
        costs = self._costs(levels)
        solver.changeColsCost(count, list(range(count)), costs)
        solver.setOptionValue("time_limit", seconds)
        solver.run()
        info = solver.getInfo()
        if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
            found = self._programme.share_of(solver.getSolution().col_value)
            if fault_of(self._workshop, found) is None:
                self._best = better(self._workshop, [self._best, found])
        reached = self._worth(costs)
        if solver.getModelStatus() == highspy.HighsModelStatus.kOptimal:
            return reached >= info.objective_function_value - 0.5, None
        bound = float(info.mip_dual_bound)
        return False, (bound - reached) / max(1.0, abs(reached)) if isfinite(bound) else None

    def _costs(self, levels: Levels) -> list[float]:
        costs = [0.0] * len(self._programme.highest)
        for (_, terms), weight in zip(levels, _weights(self._programme, levels), strict=True):
            for column, amount in terms.items():
                costs[column] += weight * amount
        return costs

    def _worth(self, costs: Sequence[float]) -> float:
        values = self._programme.values_of(self._best)
        return sum(cost * value for cost, value in zip(costs, values, strict=True))

    def _is_reached(self, levels: Levels) -> bool:
        """Whether there cannot be more of any of these, whatever is chosen."""
        reached = {level.name: level.amount for level in levels_of(self._workshop, self._best)}
        highest = self._programme.highest
        return all(
            reached[name]
            == sum(max(0, amount) * highest[column] for column, amount in terms.items())
            for name, terms in levels
        )

    def _bind(self, levels: Levels) -> None:
        """From here on no less than what was reached."""
        reached = {level.name: level.amount for level in levels_of(self._workshop, self._best)}
        for name, terms in levels:
            used = {column: amount for column, amount in terms.items() if amount}
            if used:
                self._highs.addRow(
                    float(reached[name]), float("inf"), len(used), list(used), list(used.values())
                )


def _loaded(programme: Programme) -> Any:
    """Return a solver that knows the programme."""
    import highspy  # noqa: PLC0415 - as above

    solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.silent()
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", 0.5)  # amounts are whole, so half of one is none
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(programme.highest), len(programme.rows)
    model.sense_ = highspy.ObjSense.kMaximize
    model.col_cost_ = [0.0] * model.num_col_
    model.col_lower_ = [0.0] * model.num_col_
    model.col_upper_ = [float(each) for each in programme.highest]
    model.integrality_ = [highspy.HighsVarType.kInteger] * model.num_col_
    endless = float("inf")
    model.row_lower_ = [-endless if row.low is None else float(row.low) for row in programme.rows]
    model.row_upper_ = [endless if row.high is None else float(row.high) for row in programme.rows]
    starts, columns = [0], list[int]()
    amounts: list[float] = []
    for row in programme.rows:
        columns += row.terms.keys()
        amounts += [float(each) for each in row.terms.values()]
        starts.append(len(columns))
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_, model.a_matrix_.index_ = starts, columns
    model.a_matrix_.value_ = amounts
    solver.passModel(model)
    return solver


def _packed(programme: Programme, levels: Levels) -> Iterator[Levels]:
    """Yield the levels in groups that are light enough to be weighed into one."""
    group: Levels = []
    weight = 1
    for level in levels:
        heaviest = _most(programme, level[1])
        if heaviest == 0:
            continue
        if group and weight * (heaviest + 1) > _HEAVIEST:
            yield group
            group, weight = [], 1
        group.append(level)
        weight *= heaviest + 1
    if group:
        yield group


def _weights(programme: Programme, levels: Levels) -> Sequence[int]:
    """Return a whole weight for each level, larger than all that comes after it can amount to."""
    weights, weight = [], 1
    for _, terms in reversed(levels):
        weights.append(weight)
        weight *= _most(programme, terms) + 1
    return weights[::-1]


def _most(programme: Programme, terms: Terms) -> int:
    """Return how much a level can amount to at most, above or below nothing."""
    return sum(abs(amount) * programme.highest[column] for column, amount in terms.items())
