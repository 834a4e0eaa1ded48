"""All that outcomes say, put together from a fixed number of statements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sparewell.extend.settings import settings_used
from sparewell.learned.bags import Bag, bags
from sparewell.learned.bands import MarginBands, margins_in_bands
from sparewell.learned.fitted import all_fitted
from sparewell.learned.months import KindOverMonths, over_months
from sparewell.learned.questions import FEWEST_TO_QUESTION, SettingQuestion, questions
from sparewell.learned.settings import EXPECTED_FAILURES
from sparewell.learned.tallies import FEWEST_TO_SAY, OutcomeTally, by, summed
from sparewell.outcomes.operations import is_glued
from sparewell.settings.operations import present_values
from sparewell.work import Work

_COUNTED: Final = (
    "Counted are promises of which pieces were fitted, not pieces; of several words on one the "
    "latest counts."
)
_FEW: Final = (
    f"No share is given of fewer than {FEWEST_TO_SAY} that were heard of, and no setting is "
    f"questioned by fewer than {FEWEST_TO_QUESTION}."
)
_WHO_SPEAKS: Final = (
    "A word at the close says how a pen left. Of what is heard later more has failed than of what "
    "nobody speaks of, so such shares are rather too high."
)


@dataclass(frozen=True)
class Grouped:
    """What was fitted of one kind, by one thing that is said of it."""

    kind: str
    name: str | None
    tally: OutcomeTally


@dataclass(frozen=True)
class Learned:
    """All that outcomes say."""

    tally: OutcomeTally
    margins: Sequence[MarginBands]
    materials: Sequence[Grouped]
    glues: Sequence[Grouped]
    bags: Sequence[Bag]
    bags_left_out: int
    months: Sequence[KindOverMonths]
    questions: Sequence[SettingQuestion]
    settings: Sequence[dict[str, object]]
    notes: Sequence[str] = (_COUNTED, _FEW, _WHO_SPEAKS)


def learned(work: Work) -> Learned:
    """Return what the workshop's own outcomes say, and which settings they speak against."""
    declared, values = work.declared, present_values(work.session, work.declared)
    fitted = all_fitted(work.session)
    margins = list(margins_in_bands(fitted, declared, values))
    materials = by(fitted, lambda each: (each.kind, each.material))
    glued = [each for each in fitted if each.glue and is_glued(declared, each.kind)]
    told, left_out = bags(work.session, fitted)
    asked = questions(margins, declared, values)
    scales = [margin.scale for margin in margins if margin.scale is not None]
    marks = {name for scale in scales for name in (*scale.marks, *scale.while_set)}
    return Learned(
        summed(materials.values()),
        margins,
        _grouped(materials),
        _grouped(by(glued, lambda each: (each.kind, each.glue))),
        told,
        left_out,
        over_months(fitted),
        asked,
        settings_used({*marks, EXPECTED_FAILURES.name}, values, declared),
    )


def _grouped(tallies: dict[tuple[str, str | None], OutcomeTally]) -> list[Grouped]:
    """Return tallies in the order of kinds, what was fitted most often first."""
    return sorted(
        (Grouped(kind, name, told) for (kind, name), told in tallies.items()),
        key=lambda group: (group.kind, -group.tally.fitted, group.name or ""),
    )
