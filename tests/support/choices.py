"""What a client of the random race asks next: everybody after the same few pieces.

A client knows the lots that were there at the start, and beyond them what it was told. It also
lays hands on jobs and reservations that others made, by guessing at numbers near the newest.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from support.history import GRANTED, VERBS, Event, Request

PART_OF_KIND = {"sac": "SAC-15-STR", "o_ring": "RING-6"}
DRAWERS = ("A1", "A2", "A3")
NEAR = 12
SHARE_WITH_KEY = 0.6


@dataclass(frozen=True)
class Workshop:
    """What every client knows from the start."""

    address: str
    token: str
    lots: tuple[int, ...]
    pens: tuple[str, ...]


class Choices:
    """One client's dice, and what it has learnt."""

    def __init__(self, seed: int, client: int, workshop: Workshop, *, always_key: bool) -> None:
        self.dice = random.Random(f"{seed}-{client}")  # noqa: S311 - a seed to repeat it with
        self._client, self._workshop, self._always_key = client, workshop, always_key
        self._made = 0
        self._lots: deque[int] = deque(maxlen=3)
        self._strays: deque[tuple[int, int]] = deque()
        self._jobs: deque[str] = deque(maxlen=4)
        self._held: deque[tuple[int, int]] = deque(maxlen=12)
        self._newest_job, self._newest_reservation = 1, 1
        self._dry: deque[int] = deque(maxlen=2)
        self._acts: dict[Callable[[], tuple[str, str, dict[str, Any]]], int] = {
            self._reserve: 24,
            self._reserve_best: 9,
            self._verb: 37,
            self._count: 7,
            self._discard: 3,
            self._move: 6,
            self._arrive: 1,
            self._open: 8,
            self._end: 5,
        }

    def next(self) -> Request:
        """Return what to ask now."""
        if not self._jobs:
            return self._request(*self._open())
        if self._dry and self.dice.random() < 0.7:
            return self._request(*self._refill(self._dry.popleft()))
        if len(self._strays) > 2 and self.dice.random() < 0.5:
            return self._request(*self._throw_away(*self._strays.popleft()))
        if self.dice.random() < 0.04:
            return Request("look", f"/v1/lots/{self._lot()}", {}, method="GET")
        (act,) = self.dice.choices(list(self._acts), list(self._acts.values()))
        return self._request(*act())

    def learn(self, event: Event) -> None:
        """Take in what an answer tells."""
        if event.status == 409 and event.name in {"reserve", "discard"}:
            lot = event.body.get("lot") or int(event.target)
            if lot in self._workshop.lots:
                self._dry.append(lot)
        if event.status == 409:
            self._forget(event)
        if event.status not in GRANTED:
            return
        if event.name == "open":
            self._jobs.append(event.shown["number"])
            self._newest_job = max(self._newest_job, int(event.shown["number"][4:]))
        for made in event.shown.get("reservations", []):
            self._held.append((made["id"], made["lot"]))
            self._newest_reservation = max(self._newest_reservation, made["id"])
        if event.name in {"arrive", "move"} and event.shown["id"] not in self._workshop.lots:
            self._lots.append(event.shown["id"])
            self._strays.append((event.shown["id"], event.shown["available"]))

    def _forget(self, event: Event) -> None:
        """Leave alone, but for guesses, what has ended."""
        if event.target in self._jobs and "nothing more" in event.text:
            self._jobs.remove(event.target)
        for held in [held for held in self._held if str(held[0]) == event.target]:
            if event.name in VERBS and "has ended" in event.text:
                self._held.remove(held)

    def _request(self, name: str, path: str, body: dict[str, Any]) -> Request:
        self._made += 1
        mark = f"c{self._client}-{self._made}"
        keyed = self._always_key or self.dice.random() < SHARE_WITH_KEY
        return Request(name, path, {**body, "note": mark}, f"key-{mark}" if keyed else None)

    def _lot(self) -> int:
        if self._lots and self.dice.random() < 0.2:
            return self.dice.choice(self._lots)
        return self.dice.choice(self._workshop.lots)

    def _job(self) -> str:
        if self.dice.random() < 0.2:
            return f"JOB-{max(1, self._newest_job - self.dice.randrange(NEAR)):04d}"
        return self.dice.choice(self._jobs)

    def _reservation(self) -> int:
        if not self._held or self.dice.random() < 0.3:
            return max(1, self._newest_reservation - self.dice.randrange(NEAR))
        # The newest oftener than others, before it lapses.
        place = min(self.dice.randrange(6), self.dice.randrange(6)) % len(self._held)
        return self._held[-1 - place][0]

    def _some(self, most: int, none_share: float) -> dict[str, Any]:
        if self.dice.random() < none_share:
            return {}
        return {"quantity": self.dice.randint(1, most)}

    def _give_up(self, lot: int) -> dict[str, Any]:
        """Name holds to be given up for an act on a lot; now and then one of another lot."""
        if self.dice.random() < 0.6:
            return {}
        there = [held for held, of in self._held if of == lot or self.dice.random() < 0.02]
        return {"release": there[-5:]}

    def _reserve(self) -> tuple[str, str, dict[str, Any]]:
        body = {"lot": self._lot(), **self._some(3, 0.1)}
        return "reserve", f"/v1/jobs/{self._job()}/reservations", body

    def _reserve_best(self) -> tuple[str, str, dict[str, Any]]:
        return "reserve_best", f"/v1/jobs/{self._job()}/reservations", {}

    def _verb(self) -> tuple[str, str, dict[str, Any]]:
        (verb,) = self.dice.choices(("fetch", "use", "release", "spoil"), (9, 11, 7, 3))
        return verb, f"/v1/reservations/{self._reservation()}/{verb}", self._some(2, 0.4)

    def _count(self) -> tuple[str, str, dict[str, Any]]:
        lot = self._lot()
        body = {"counted": self.dice.randint(0, 6), **self._give_up(lot)}
        return "count", f"/v1/lots/{lot}/count", body

    def _refill(self, lot: int) -> tuple[str, str, dict[str, Any]]:
        if self.dice.random() < 0.05:
            return self._arrive()
        return "count", f"/v1/lots/{lot}/count", {"counted": self.dice.randint(3, 7)}

    def _discard(self) -> tuple[str, str, dict[str, Any]]:
        lot = self._lot()
        body = {"quantity": self.dice.randint(1, 2), **self._give_up(lot)}
        return "discard", f"/v1/lots/{lot}/discard", body

    def _throw_away(self, lot: int, quantity: int) -> tuple[str, str, dict[str, Any]]:
        """Keep the lots few, so that everybody goes on after the same ones."""
        return "discard", f"/v1/lots/{lot}/discard", {"quantity": max(1, quantity)}

    def _move(self) -> tuple[str, str, dict[str, Any]]:
        lot = self._lot()
        body = {"drawer": self.dice.choice(DRAWERS), **self._some(2, 0.5), **self._give_up(lot)}
        return "move", f"/v1/lots/{lot}/move", body

    def _arrive(self) -> tuple[str, str, dict[str, Any]]:
        part = self.dice.choice(list(PART_OF_KIND.values()))
        body = {"part": part, "drawer": self.dice.choice(DRAWERS), "cost": "1.00"}
        return "arrive", "/v1/lots", {**body, "quantity": self.dice.randint(1, 3)}

    def _open(self) -> tuple[str, str, dict[str, Any]]:
        return "open", "/v1/jobs", {"pen": self.dice.choice(self._workshop.pens)}

    def _end(self) -> tuple[str, str, dict[str, Any]]:
        end = self.dice.choice(("close", "cancel"))
        return end, f"/v1/jobs/{self._job()}/{end}", {}
