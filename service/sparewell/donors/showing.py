"""What is shown of donors: each with its checklist, what became of the pieces, and cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sparewell.cautions.operations import Caution, of_keeping
from sparewell.donors.operations import Fate, fates
from sparewell.donors.tables import Component, Donor
from sparewell.lots.operations import measured_nanometres
from sparewell.work import Work


@dataclass(frozen=True)
class ShownComponent:
    """A line of a donor's checklist, and what became of its piece."""

    row: Component
    fate: Fate

    @property
    def place(self) -> str | None:
        """Where the piece lies, while it is in hand."""
        lot = self.row.lot
        return lot.place.code if lot and lot.in_hand else None

    @property
    def cost(self) -> int | None:
        """What the piece carries of the donor's cost; what has left carries none."""
        lot = self.row.lot
        return lot.cost_minor if lot and lot.in_hand else None

    @property
    def measured(self) -> dict[str, int]:
        """What was measured on the piece, in nanometres."""
        return measured_nanometres(self.row.lot) if self.row.lot else {}

    @property
    def attributes(self) -> Mapping[str, Any]:
        """What the piece is like, or was said to be like where there is none."""
        return self.row.lot.attributes if self.row.lot else self.row.attributes

    @property
    def taken(self) -> dict[str, Any] | None:
        """How the piece left."""
        fate = self.fate
        return {"verb": fate.gone, "job": fate.job, "at": fate.at} if fate.gone else None


@dataclass(frozen=True)
class ShownDonor:
    """A donor with its checklist, and what to mind where it is kept."""

    row: Donor
    components: Sequence[ShownComponent]
    cautions: Sequence[Caution]


def shown_donors(work: Work, donors: Sequence[Donor]) -> list[ShownDonor]:
    """Return donors as they are shown."""
    found = fates(work.session, [each for donor in donors for each in donor.components])
    return [
        ShownDonor(
            donor,
            [_shown(each, found) for each in donor.components],
            of_keeping(work.declared, donor.materials),
        )
        for donor in donors
    ]


def shown_donor(work: Work, donor: Donor) -> ShownDonor:
    """Return one donor as it is shown."""
    return shown_donors(work, [donor])[0]


def shown_component(work: Work, component: Component) -> ShownComponent:
    """Return one line of a checklist as it is shown."""
    return _shown(component, fates(work.session, [component]))


def _shown(component: Component, found: Mapping[int, Fate]) -> ShownComponent:
    return ShownComponent(component, found.get(component.lot_id or 0, Fate()))
