"""From which day the storage is counted: the making date, else the day of receipt."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sparewell.plugin import ImpossibleInput, Inputs, MadeOn, MadeOnError, parse_made_on


@dataclass(frozen=True)
class CountedFrom:
    """The dates as given, and the first day they may mean; None while nothing is known."""

    made_on: MadeOn | None
    received_on: MadeOn | None

    @property
    def source(self) -> str | None:
        """Which of the two the storage is counted from."""
        if self.made_on is not None:
            return "made_on"
        return None if self.received_on is None else "received_on"

    @property
    def day(self) -> date | None:
        """The earliest day it may mean, which is the worst case for rubber."""
        given = self.made_on or self.received_on
        return None if given is None else given.earliest


def counted_of(inputs: Inputs) -> CountedFrom:
    """Return the dates. Raises ImpossibleInput for no date, a day to come, or a crossed pair."""
    made_on = _date(inputs, "made_on", "was made")
    received_on = _date(inputs, "received_on", "came")
    if made_on and received_on and received_on.latest < made_on.earliest:
        raise ImpossibleInput(
            ("received_on", f"it cannot have come ({received_on.text}) before {made_on.text}")
        )
    return CountedFrom(made_on, received_on)


def _date(inputs: Inputs, name: str, happened: str) -> MadeOn | None:
    """Return one date, or None where it is unknown."""
    try:
        found = parse_made_on(inputs.text(name))
    except MadeOnError as error:
        raise ImpossibleInput((name, str(error))) from error
    if found is not None and found.earliest > inputs.today:
        raise ImpossibleInput(
            (
                name,
                (
                    f"{found.text} is still to come (today is {inputs.today.isoformat()}): give "
                    f"when it {happened}, or unknown"
                ),
            )
        )
    return found
