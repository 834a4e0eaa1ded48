"""What a plugin may declare about ordering: policies, and where thresholds are kept."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from sparewell.extend.fields import Field, Inputs, Setting

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


@dataclass(frozen=True)
class Demand:
    """How a part was wanted: pieces by period, the oldest first, and how long an order takes.

    `history` starts with the first whole period in which anything could have been wanted.
    """

    history: tuple[int, ...]
    period_days: int
    lead_days: Decimal
    review_days: Decimal


@dataclass(frozen=True)
class Decision:
    """When a part is to be ordered, and up to how many pieces.

    It is due when no more than `reorder_point` pieces are free or on their way. `order_up_to` is
    above the reorder point. `achieved_level` is the chance to see an order through without
    running out, where the policy reckons one; `why` says it in a sentence, with its numbers.
    """

    reorder_point: int
    order_up_to: int
    why: str
    achieved_level: Decimal | None = None
    working: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReorderPolicy:
    """A rule that says when a part is to be ordered.

    `parameters` are what a workshop may choose for each part; `decide` is handed those that were
    chosen, beside the settings. It raises :class:`ImpossibleInput` for parameters that contradict
    each other.
    """

    name: str
    title: str
    help: str
    parameters: tuple[Field, ...]
    decide: Callable[[Demand, Inputs], Decision]
    sources: tuple[str, ...]
    settings: tuple[Setting, ...] = ()


@dataclass(frozen=True)
class Threshold:
    """What was said of when a part is to be ordered; a later one of the part stands over it.

    `parameters` are the policy's, as they were given. A `policy` of None takes back what was said
    before, so that the workshop's own policy holds again.
    """

    policy: str | None
    parameters: Mapping[str, object]
    why: str
    actor: str
    person: str | None
    at: datetime


@dataclass(frozen=True)
class ThresholdBook:
    """Where the thresholds of parts are kept: tables of the plugin's own.

    Each function is handed the session of the unit of work it runs in, and neither commits nor
    rolls back. `read` returns the latest threshold of these parts, or of all where it is handed
    None; `history` all that were written of one part, the oldest first.
    """

    name: str
    read: Callable[[Session, Collection[int] | None], Mapping[int, Threshold]]
    history: Callable[[Session, int], Sequence[Threshold]]
    write: Callable[[Session, int, Threshold], None]
