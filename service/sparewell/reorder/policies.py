"""When a part is to be ordered: its threshold, else the workshop's policy; and asking a plugin."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from sparewell.catalogue.tables import Part
from sparewell.errors import Broken, Impossible, Problem
from sparewell.extend.declarations import ImpossibleInput
from sparewell.extend.fields import Value
from sparewell.extend.inputs import Inputs, SettingValues
from sparewell.extend.reordering import Decision, Demand, ReorderPolicy
from sparewell.extend.values import ValueRefused, read_value
from sparewell.reorder.settings import DEFAULT_POLICY
from sparewell.reorder.thresholds import (
    Threshold,
    threshold_history,
    threshold_table,
    write_threshold,
)
from sparewell.tally import Spent, spent
from sparewell.work import Work

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Ruling:
    """What a policy said of a part. Without a decision, `why` says what is wrong."""

    policy: str | None
    why: str
    decision: Decision | None = None
    settings_read: Mapping[str, Value | None] = field(default_factory=dict)


@dataclass(frozen=True)
class ShownThreshold:
    """When a part is to be ordered, and all that was said of it, the oldest first."""

    row: Part
    history: Sequence[Threshold]

    @property
    def policy(self) -> str | None:
        """The policy that was chosen last, if any was."""
        return self.history[-1].policy if self.history else None

    @property
    def parameters(self) -> Mapping[str, Any]:
        """The parameters that were chosen with it."""
        return self.history[-1].parameters if self.history else {}


def shown_threshold(work: Work, part: Part) -> ShownThreshold:
    """Return what was said of when a part is to be ordered, as it is shown."""
    return ShownThreshold(part, threshold_history(work, part.id))


def set_threshold(
    work: Work,
    part_id: int,
    policy: str | None,
    parameters: Mapping[str, Any],
    why: str,
    demand: Demand,
    settings: SettingValues,
) -> None:
    """Say when a part is to be ordered; None leaves it to the workshop's policy again.

    The policy is tried on the part's own demand first. Raises Impossible, Broken, NotFound.
    """
    threshold_table(work)
    if policy is None and parameters:
        raise Impossible.at("/parameters", "parameters are a policy's: name the policy, or none")
    if policy is not None:
        known = policy_named(work, policy)
        decide(work, known, read_parameters(known, parameters), demand, settings)
    actor = work.actor
    kept = {name: _plain(value) for name, value in parameters.items()}
    threshold = Threshold(policy, kept, why, actor.token, actor.person, work.now)
    write_threshold(work, part_id, threshold)


def policy_named(work: Work, name: str) -> ReorderPolicy:
    """Return a policy. Raises :class:`Impossible` naming those there are."""
    policy = work.declared.reorder_policies.get(name)
    if policy is None:
        known = ", ".join(work.declared.reorder_policies) or "none"
        raise Impossible.at("/policy", f"there is no policy {name!r}; there are {known}")
    return policy


def read_parameters(policy: ReorderPolicy, given: Mapping[str, object]) -> dict[str, Value]:
    """Return parameters as a policy takes them. Raises :class:`Impossible`."""
    fields = {each.name: each for each in policy.parameters}
    values: dict[str, Value] = {}
    problems = []
    for name, raw in given.items():
        if name not in fields:
            known = ", ".join(fields) or "none"
            detail = f"{policy.name} has no parameter {name!r}; it has {known}"
            problems.append(Problem(f"/parameters/{name}", detail))
            continue
        try:
            values[name] = read_value(fields[name], raw).value
        except ValueRefused as error:
            problems.append(Problem(f"/parameters/{name}", str(error)))
    problems += [
        Problem(f"/parameters/{name}", "required")
        for name, each in fields.items()
        if each.required and name not in given
    ]
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return values


def decide(
    work: Work,
    policy: ReorderPolicy,
    values: Mapping[str, Value],
    demand: Demand,
    settings: SettingValues,
) -> Ruling:
    """Ask a policy. Raises :class:`Impossible` and :class:`Broken`."""
    inputs = Inputs(values, spreads={}, settings=settings, today=work.now.date())
    try:
        with spent(Spent.PLUGINS):
            decision = _checked(policy.decide(demand, inputs))
    except ImpossibleInput as error:
        raise Impossible(
            str(error),
            [Problem(f"/parameters/{name}", sentence) for name, sentence in error.problems],
        ) from error
    except Exception as error:
        plugin = work.declared.provider[f"reorder_policies/{policy.name}"]
        _log.exception("plugin %s failed in the policy %s", plugin, policy.name)
        raise Broken(
            f"the plugin {plugin!r} failed in the policy {policy.name!r} "
            f"({type(error).__name__}); everything else goes on",
            plugin,
        ) from error
    return Ruling(policy.name, decision.why, decision, dict(inputs.settings_read))


def _checked(decision: Decision) -> Decision:
    """Return what a plugin decided, if it is what it promised to be."""
    if not isinstance(decision, Decision):
        raise TypeError(f"{type(decision).__name__} returned, not Decision")
    if not decision.reorder_point < decision.order_up_to:
        raise ValueError("order_up_to is not above reorder_point")
    return decision


def rule(
    work: Work,
    threshold: Threshold | None,
    demand: Demand,
    settings: SettingValues,
) -> Ruling:
    """Return what is to be done about a part; a policy that fails answers for itself alone."""
    name = settings.text(DEFAULT_POLICY.name)
    given: Mapping[str, object] = {}
    if threshold is not None and threshold.policy is not None:
        name, given = threshold.policy, threshold.parameters
    policy = work.declared.reorder_policies.get(name)
    if policy is None:
        return Ruling(None, f"the policy {name!r} is not loaded")
    try:
        return decide(work, policy, read_parameters(policy, given), demand, settings)
    except (Impossible, Broken) as refusal:
        return Ruling(name, refusal.detail)


def _plain(value: object) -> object:
    """Return a parameter as JSON keeps it exactly."""
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, Mapping):
        return {str(name): _plain(member) for name, member in value.items()}
    if isinstance(value, list):
        return [_plain(member) for member in value]
    return value
