"""What a plugin may declare about ordering: policies, which say when a part is due."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from sparewell.extend.fields import Field, Setting
from sparewell.extend.inputs import Inputs


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

    `parameters` are what a workshop may choose for each part, and `asks_first` the name of the one
    to ask for where a form has room for one only; `decide` is handed those that were chosen, beside
    the settings. It raises :class:`ImpossibleInput` for parameters that contradict each other.
    """

    name: str
    title: str
    help: str
    parameters: tuple[Field, ...]
    decide: Callable[[Demand, Inputs], Decision]
    sources: tuple[str, ...]
    settings: tuple[Setting, ...] = ()
    asks_first: str = ""
