"""What clients asked and were told, and what the service says in the end.

An :class:`Event` is one request with one answer. An effect is a request that was granted, once,
however often it was repeated under its key: it is known to have happened between the first time it
was sent and the first time anybody was told so.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

UNAVAILABLE = 503
GRANTED = frozenset({200, 201})
VERBS = frozenset({"fetch", "use", "release", "spoil"})
IN_PROGRESS = "/request-in-progress"
MOST_READINGS = 5


@dataclass(frozen=True)
class Request:
    """One request; `note` in its body is its own and stands with whatever it brings about."""

    name: str
    path: str
    body: Mapping[str, Any]
    key: str | None = None
    method: str = "POST"

    @property
    def note(self) -> str:
        """The mark by which its effect is found."""
        return str(self.body.get("note") or self.body.get("reason", ""))

    @property
    def target(self) -> str:
        """What stands in the path: the id of a lot or a reservation, or the number of a job."""
        return self.path.split("/")[3] if self.path.count("/") > 2 else ""


@dataclass(frozen=True)
class Event(Request):
    """A request, and what came back. The times are of one clock for all processes."""

    client: int = 0
    sent: float = 0.0
    answered: float = 0.0
    status: int = 0
    text: str = ""
    content_type: str = ""
    replayed: bool = False
    retry_after: str | None = None
    tries: int = 1

    @cached_property
    def shown(self) -> Any:
        """The document that came back."""
        return json.loads(self.text)

    @property
    def reserved(self) -> list[Mapping[str, Any]]:
        """The reservations that it brought about."""
        spoiled = self.shown.get("next") or {}
        return [*self.shown.get("reservations", []), *spoiled.get("reserved", [])]

    @property
    def moved(self) -> list[Mapping[str, Any]]:
        """The promises of other jobs that moved aside for it."""
        shown = self.shown
        return shown.get("moved", []) if "reservations" in shown else []  # a job shows others' too

    @property
    def lots(self) -> list[Mapping[str, Any]]:
        """The lots that the answer shows, after what was done."""
        found = [self.shown] if "in_hand" in self.shown else []
        found += [self.shown["taken_from"]] if "taken_from" in self.shown else []
        return [*found, *self.shown.get("made", []), *self.shown.get("lots", [])]

    @property
    def note_in_ledger(self) -> str:
        """What stands in the ledger for its note; what a donor has arrives as its parts."""
        return f"a part of {self.shown['number']}" if self.name == "keep" else self.note

    @property
    def is_definite(self) -> bool:
        """Whether the client knows now what became of it."""
        if self.status == UNAVAILABLE:
            return False
        return not (self.retry_after and str(self.shown.get("type", "")).endswith(IN_PROGRESS))


@dataclass(frozen=True)
class History:
    """Every event of a run; after crashes, answers may have been lost on their way."""

    events: Sequence[Event]
    hold_seconds: float
    crashes: bool = False

    @cached_property
    def definite(self) -> list[Event]:
        """The events whose outcome the client was told."""
        return [event for event in self.events if event.is_definite]

    @cached_property
    def by_key(self) -> dict[str, list[Event]]:
        """The definite events of each key, in the order of their answers."""
        found: dict[str, list[Event]] = defaultdict(list)
        for event in sorted(self.definite, key=lambda event: event.answered):
            if event.key is not None:
                found[event.key].append(event)
        return found

    @cached_property
    def effects(self) -> list[Event]:
        """What was granted, each thing once."""
        once = [event for event in self.definite if event.key is None]
        for told in self.by_key.values():
            sent = min(event.sent for event in told)
            first = next((event for event in told if not event.replayed), told[0])
            once.append(replace(first, sent=sent, answered=told[0].answered))
        granted = [event for event in once if event.status in GRANTED and event.method == "POST"]
        return sorted(granted, key=lambda event: event.answered)

    def of(self, *names: str) -> list[Event]:
        """Return the effects of these names."""
        return [effect for effect in self.effects if effect.name in names]

    @cached_property
    def pins(self) -> dict[str, list[Event]]:
        """Every request that said of a promise whether it stays, granted or not, by promise."""
        found: dict[str, list[Event]] = defaultdict(list)
        for event in self.events:
            if event.name == "pin":
                found[event.target].append(event)
        return found

    @cached_property
    def promising(self) -> list[Event]:
        """The effects by which pieces were promised."""
        effects = self.of("reserve", "reserve_best", "tonight", "spoil")
        return [effect for effect in effects if effect.name != "spoil" or effect.reserved]


@dataclass(frozen=True)
class Final:
    """What the service says when all is over."""

    lots: Mapping[int, Mapping[str, Any]]
    reservations: Mapping[int, Mapping[str, Any]]
    jobs: Mapping[str, Mapping[str, Any]]
    movements: Sequence[Mapping[str, Any]]

    @cached_property
    def lines(self) -> dict[str, list[Mapping[str, Any]]]:
        """The ledger's lines by the note of what brought them about."""
        found: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
        for line in self.movements:
            found[line["note"]].append(line)
        return found


def read_final(get: Callable[[str], Any]) -> Final:
    """Read every list to its end; again, if a hold lapsed between one list and the next."""

    def every(plural: str) -> Iterable[dict[str, Any]]:
        path: str | None = f"/v1/{plural}?limit=500"
        while path:
            page = get(path)
            yield from page[plural]
            path = page["next"]

    for _ in range(MOST_READINGS):
        lots = {row["id"]: row for row in every("lots")}
        final = Final(
            lots=lots,
            reservations={row["id"]: row for row in every("reservations")},
            jobs={row["number"]: row for row in every("jobs")},
            movements=list(every("movements")),
        )
        if lots == {row["id"]: row for row in every("lots")}:
            return final
    raise AssertionError("the lots never stand still")


def save(events: Iterable[Event], file: Path) -> None:
    """Write events to a file, one a line."""
    file.write_text("".join(json.dumps(asdict(event)) + "\n" for event in events))


def load(file: Path) -> list[Event]:
    """Read events back."""
    return [Event(**json.loads(line)) for line in file.read_text().splitlines()]


def summary(database: str, seed: int, history: History, *more: str) -> str:
    """Say in one line what a run was."""
    events = history.events
    seconds = max(event.answered for event in events) - min(event.sent for event in events)
    waits = sorted((event.answered - event.sent) * 1000 for event in events)
    statuses = _counted(str(event.status) for event in events)
    refused = _counted(
        str(event.body.get("lot", event.target))
        for event in events
        if event.status == 409 and (event.name == "reserve" or event.path.startswith("/v1/lots/"))
    )
    lot, refusals = next(iter(refused.items()), ("none", 0))
    replayed = sum(event.replayed for event in events)
    again = [event for event in events if event.tries > 1]
    parts = [
        f"{database}: seed {seed}",
        f"{len(events)} operations in {seconds:.1f} s, {len(events) / seconds:.0f} a second",
        ", ".join(f"{count} x {status}" for status, count in statuses.items()),
        f"{replayed} replayed",
        f"{len(again)} asked again, {sum(event.replayed for event in again)} of them done before",
        f"lot {lot} refused most often ({refusals} times)",
        f"p50 {waits[len(waits) // 2]:.1f} ms, p99 {waits[len(waits) * 99 // 100]:.1f} ms",
        *more,
    ]
    return "; ".join(parts)


def _counted(words: Iterable[str]) -> dict[str, int]:
    counts: dict[str, int] = defaultdict(int)
    for word in words:
        counts[word] += 1
    return dict(sorted(counts.items(), key=lambda item: -item[1]))
