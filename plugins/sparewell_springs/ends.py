"""The four ends of a compression spring, and what each takes of its coils.

Sources: Shigley's Mechanical Engineering Design, Table 10-1; Machinery's Handbook, 31st edition.
They agree.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Final


@dataclass(frozen=True)
class End:
    """One kind of ends.

    Of the total coils `dead` do not work. Pressed solid the spring is its total coils and
    `solid_more` wires long. Free it is `pitches_more` pitches longer than its active coils, and
    `wires_more` wires.
    """

    name: str
    words: str
    dead: int
    solid_more: int
    pitches_more: int
    wires_more: int

    def solid_nanometres(self, wire_nanometres: int, total_coils: Fraction) -> Fraction:
        """Return the length pressed solid, in nanometres."""
        return wire_nanometres * (total_coils + self.solid_more)

    def pitch_nanometres(
        self, free_nanometres: int, wire_nanometres: int, active_coils: Fraction
    ) -> Fraction:
        """Return the pitch of the free spring, in nanometres."""
        worked = free_nanometres - self.wires_more * wire_nanometres
        return worked / (active_coils + self.pitches_more)


ENDS: Final[Mapping[str, End]] = MappingProxyType(
    {
        end.name: end
        for end in (
            End("plain", "plain", dead=0, solid_more=1, pitches_more=0, wires_more=1),
            End("plain_ground", "plain and ground", 1, 0, 1, 0),
            End("squared", "squared (closed)", 2, 1, 0, 3),
            End("squared_ground", "squared and ground", 2, 0, 0, 2),
        )
    }
)
