"""The plan of a job: its needs planned together, what is short, and what to mind."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sparewell.cautions.operations import Caution, cautions_for
from sparewell.errors import Broken, Impossible
from sparewell.extend.declarations import Verdict
from sparewell.extend.pen_materials import materials_of
from sparewell.fitting.judging import Candidate, judge_lot, piece_of
from sparewell.jobs.held import HeldPiece, covers_of, materials_held, pieces_of
from sparewell.jobs.inputs import paired_with, run_for, settled_readings, settles
from sparewell.jobs.tables import Job, Need, NeedState
from sparewell.lots.tables import Lot
from sparewell.measure.wording import millimetres_text
from sparewell.plans.contested import Contest, contest
from sparewell.plans.need_plans import NeedPlan, choose, plan_need
from sparewell.work import Work

MOST_OPTIONS = 20


@dataclass(frozen=True)
class Plan:
    """The plan of a whole job."""

    needs: tuple[NeedPlan, ...]
    cautions: tuple[Caution, ...] = field(default_factory=tuple)
    is_outdone: bool = False

    @property
    def complete(self) -> bool:
        """Whether every need that is not optional is decided, and covered or can be.

        A piece that another job wants too is counted for one of them.
        """
        is_covered = all(plan.short == 0 for plan in self.needs if not plan.need.optional)
        return not self.is_outdone and self.is_decided and is_covered

    @property
    def is_decided(self) -> bool:
        """Whether every need that is not optional is decided, and nothing contradicts itself."""
        return all(
            plan.cover.state(plan.need) != NeedState.UNDECIDED
            for plan in self.needs
            if not plan.need.optional
        ) and not any(plan.contradiction for plan in self.needs)


def plan_job(
    work: Work,
    job: Job,
    pieces: Sequence[HeldPiece] | None = None,
    *,
    with_drawings: bool = False,
) -> Plan:
    """Work out what a job can have, with the `pieces` that it has. Takes nothing."""
    if pieces is None:
        pieces = pieces_of(work.session, [job]).every
    planner = _Planner(work, job, pieces, with_drawings=with_drawings)
    plans = planner.plan()
    needs = tuple(replace(plans[need.id], paired_with=paired_with(job, need)) for need in job.needs)
    fitted = materials_held(planner.held, job)
    for plan in needs:
        for taking in plan.best:
            lot = work.session.get_one(Lot, taking.lot_id)
            fitted.setdefault(lot.kind, set()).add(lot.material)
    materials = materials_of(job.pen.materials, job.pen.components)
    cautions = cautions_for(work.declared, materials, job.template["steps"], fitted)
    return Plan(needs, tuple(cautions))


def plan_beside_others(work: Work, job: Job, pieces: Sequence[HeldPiece] | None = None) -> Plan:
    """Work out what a job can have, and say of it what other open jobs want too."""
    plan = plan_job(work, job, pieces)
    found = contest(work, job, plan.needs)
    if found is None:
        return plan
    is_outdone = found.is_outdone and plan.complete
    needs = tuple(_contested(each, found, is_outdone=is_outdone) for each in plan.needs)
    return replace(plan, needs=needs, is_outdone=is_outdone)


def _contested(plan: NeedPlan, found: Contest, *, is_outdone: bool) -> NeedPlan:
    others = found.wanted_by.get(plan.need.id, ())
    if not others:
        return plan
    said = f"what is in hand for it is wanted by {', '.join(others)} too"
    if is_outdone:
        said += ", and counted for those that come first"
    return replace(plan, wanted_by=others, warnings=(*plan.warnings, said))


class _Planner:
    """Plans the needs of one job together: what one piece settles, the others are judged by.

    A bar that is promised, or would be, stands as it measures, whatever the old one measured. So
    the needs whose pieces settle a reading come first; each option of theirs is tried with what
    depends on it, and the first with which everything can be had is taken.
    """

    def __init__(
        self, work: Work, job: Job, pieces: Sequence[HeldPiece], *, with_drawings: bool
    ) -> None:
        self.work, self.job, self.with_drawings = work, job, with_drawings
        self.held = [each for each in pieces if each.is_held]
        self.cover = covers_of(pieces, [job])
        self.taken: dict[int, int] = {}
        self.settled = settled_readings(work, job, self.held)

    def plan(self) -> dict[int, NeedPlan]:
        """Return the plan of every need by its id."""
        settling = [need for need in self.job.needs if settles(self.work, need)]
        plans = {need.id: self._one(need, self.taken, self.settled) for need in settling}
        for need in settling:
            if plans[need.id].best and not need.optional:
                plans[need.id] = self._with_what_depends(plans[need.id])
        others = [need for need in self.job.needs if need not in settling]
        plans |= {need.id: self._one(need, self.taken, self.settled) for need in others}
        for need in others:
            plans[need.id] = self._contradicted(plans[need.id])
        for need in settling:
            if plans[need.id].best and need.optional:
                plans[need.id] = self._beside(plans[need.id], plans)
        return plans

    def _one(self, need: Need, taken: dict[int, int], settled: Mapping[str, int]) -> NeedPlan:
        return plan_need(
            self.work,
            self.job,
            need,
            self.cover[need.id],
            taken,
            settled,
            with_drawings=self.with_drawings,
        )

    def _with_what_depends(self, plan: NeedPlan) -> NeedPlan:
        """Return the plan with the first option that leaves a piece for what depends on it."""
        self._give_back(plan)
        first: NeedPlan | None = None
        reason = None
        for option, settled in self._options(plan):
            why_not = self._clash(plan.need, settled)
            if why_not is not None:
                reason = reason or f"{_named(plan, option)}: {why_not}"
                continue
            chosen = replace(plan, best=choose(option, self._remaining(plan), dict(self.taken)))
            first = first or chosen
            if chosen.short == 0 and self._all_to_be_had(plan.need, settled):
                first = chosen
                break
        if first is None:
            return replace(plan, best=(), problem=reason)
        self._take(first)
        assert first.run is not None  # noqa: S101 - it was chosen among the pieces found
        for taking in first.best:
            lot = self.work.session.get_one(Lot, taking.lot_id)
            self.settled = {**self.settled, **first.run.settles(piece_of(lot))}
        return first

    def _options(self, plan: NeedPlan) -> Iterator[tuple[Sequence[Candidate], dict[str, int]]]:
        """Yield the pieces that could be taken, each put first, with the readings it settles."""
        assert plan.found is not None  # noqa: S101 - it has a best piece
        assert plan.run is not None  # noqa: S101 - as above
        able = [each for each in plan.found.candidates if each.is_taken_by_itself]
        for option in able[:MOST_OPTIONS]:
            settled = {**self.settled, **plan.run.settles(piece_of(option.lot))}
            yield [option, *(each for each in able if each is not option)], settled

    def _remaining(self, plan: NeedPlan) -> int:
        return plan.cover.remaining(plan.need)

    def _give_back(self, plan: NeedPlan) -> None:
        for taking in plan.best:
            self.taken[taking.lot_id] -= taking.quantity

    def _take(self, plan: NeedPlan) -> None:
        for taking in plan.best:
            self.taken[taking.lot_id] = self.taken.get(taking.lot_id, 0) + taking.quantity

    def _depending(self, need: Need, settled: Mapping[str, int]) -> Iterator[Need]:
        for other in self.job.needs:
            calculator = self.work.declared.calculators.get(other.calculator or "")
            if other is not need and other.is_wanted and calculator is not None:
                names = {other.reads.get(each.name, each.name) for each in calculator.inputs}
                if not names.isdisjoint(settled):
                    yield other

    def _all_to_be_had(self, need: Need, settled: Mapping[str, int]) -> bool:
        return all(
            other.optional or self._one(other, dict(self.taken), settled).short == 0
            for other in self._depending(need, settled)
        )

    def _clash(self, need: Need, settled: Mapping[str, int]) -> str | None:
        """Return why pieces that the job holds would not go with what a piece settles."""
        for other in self._depending(need, settled):
            for each in self.held:
                if each.need_id == other.id:
                    why = self._refused_by(other, each.lot, settled)
                    if why is not None:
                        return f"bag {each.lot.id} ({each.lot.kind}) does not go with it: {why}"
        return None

    def _refused_by(self, need: Need, lot: Lot, settled: Mapping[str, int]) -> str | None:
        """Return why a lot is refused by what is settled, and by nothing else."""
        verdicts = []
        for readings in ({}, settled):
            try:
                run = run_for(self.work, self.job, need, readings)
                verdicts.append(judge_lot(self.work, run, lot))
            except (Impossible, Broken) as refusal:
                if readings:
                    return refusal.detail
                return None
        without, with_it = verdicts
        if with_it.verdict is not Verdict.REFUSED or without.verdict is Verdict.REFUSED:
            return None
        return with_it.why

    def _contradicted(self, plan: NeedPlan) -> NeedPlan:
        """Say of what is promised for a need that it does not go with what else is."""
        if not self.settled:
            return plan
        for each in self.held:
            if each.need_id == plan.need.id:
                why = self._refused_by(plan.need, each.lot, self.settled)
                if why is not None:
                    settled = _spoken(self.settled)
                    return replace(
                        plan,
                        contradiction=f"bag {each.lot.id} is promised for it and does not go with "
                        f"what else is taken, which settles {settled}: {why}",
                    )
        if plan.short and plan.found is not None and plan.problem is None:
            reasons = [f"bag {each.lot.id}: {each.why}" for each in plan.found.refused[:1]]
            told = "; ".join([f"nothing in hand goes with {_spoken(self.settled)}", *reasons])
            return replace(plan, problem=told)
        return plan

    def _beside(self, plan: NeedPlan, plans: Mapping[int, NeedPlan]) -> NeedPlan:
        """Return the plan of what need not be replaced, with the first option beside the rest."""
        self._give_back(plan)
        clash = None
        for option, settled in self._options(plan):
            why_not = self._clash(plan.need, settled) or self._clash_with_best(
                plan.need, plans, settled
            )
            if why_not is None:
                chosen = replace(plan, best=choose(option, self._remaining(plan), dict(self.taken)))
                self._take(chosen)
                return chosen
            clash = clash or f"{_named(plan, option)}: {why_not}"
        self._take(plan)
        return replace(plan, warnings=(f"with {clash}",))

    def _clash_with_best(
        self, need: Need, plans: Mapping[int, NeedPlan], settled: Mapping[str, int]
    ) -> str | None:
        for other in self._depending(need, settled):
            for taking in plans[other.id].best if other.id in plans else ():
                lot = self.work.session.get_one(Lot, taking.lot_id)
                why = self._refused_by(other, lot, settled)
                if why is not None:
                    return f"bag {lot.id} ({lot.kind}) does not go with it: {why}"
        return None


def _named(plan: NeedPlan, option: Sequence[Candidate]) -> str:
    return f"bag {option[0].lot.id} ({plan.need.kind})"


def _spoken(settled: Mapping[str, int]) -> str:
    return ", ".join(
        f"{name.replace('_', ' ')} {millimetres_text(value)}" for name, value in settled.items()
    )
