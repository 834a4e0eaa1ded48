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
SAC_OF_A_DONOR = {"outside_diameter": "5.9 mm", "inside_diameter": "5.05 mm", "length": "75 mm"}
ON_IT = {"part_of": 1}
SHARE_WITH_KEY = 0.6
SHARE_PINNED = 0.1


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
        self._newest_job, self._newest_reservation, self._newest_group = 1, 1, 1
        self._groups: deque[int] = deque(maxlen=4)
        self._used: deque[tuple[int, int]] = deque(maxlen=6)
        self._donors: deque[tuple[str, int]] = deque(maxlen=4)
        self._places: dict[int, str] = {}
        self._without_length: set[int] = set()
        self._dry: deque[int] = deque(maxlen=2)
        self._acts: dict[Callable[[], tuple[str, str, dict[str, Any]]], int] = {
            self._reserve: 22,
            self._reserve_best: 16,
            self._tonight: 1,
            self._verb: 33,
            self._count: 5,
            self._discard: 3,
            self._move: 5,
            self._arrive: 1,
            self._open: 10,
            self._end: 5,
            self._cut: 3,
            self._put_back: 3,
            self._undo: 5,
            self._keep: 1,
            self._strip: 1,
            self._count_drawer: 2,
        }

    def next(self) -> Request:
        """Return what to ask now."""
        if not self._jobs:
            return self._request(*self._open())
        if self._dry and self.dice.random() < 0.7:
            return self._request(*self._refill(self._dry.popleft()))
        if len(self._strays) > 2 and self.dice.random() < 0.5:
            return self._request(*self._throw_away(*self._strays.popleft()))
        if self._held and self.dice.random() < SHARE_PINNED:
            # What somebody named stays, unless it is let go.
            path = f"/v1/reservations/{self._reservation()}"
            return Request("pin", path, {"pinned": self.dice.random() < 0.25}, method="PATCH")
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
        if event.status == 422 and event.name == "cut":
            self._without_length.add(int(event.target))
        if event.status not in GRANTED:
            return
        self._learn_of_acts(event)
        if event.name == "open":
            self._jobs.append(event.shown["number"])
            self._newest_job = max(self._newest_job, int(event.shown["number"][4:]))
        for each in event.moved:
            self._held.append((each["moved_to"], each["to_lot"]))
            self._newest_reservation = max(self._newest_reservation, each["moved_to"])
        for made in event.reserved:
            self._held.append((made["id"], made["lot"]))
            self._newest_reservation = max(self._newest_reservation, made["id"])
        if event.name in {"arrive", "move"} and event.shown["id"] not in self._workshop.lots:
            self._lots.append(event.shown["id"])
            self._strays.append((event.shown["id"], event.shown["available"]))

    def _learn_of_acts(self, event: Event) -> None:
        """Take in which group, which lots and which used pieces there are now."""
        if "group" in event.shown:
            self._groups.append(event.shown["group"])
            self._newest_group = max(self._newest_group, event.shown["group"])
        self._places |= {lot["id"]: lot["place"] for lot in event.lots}
        self._strays += [(lot["id"], lot["available"]) for lot in event.shown.get("made", [])]
        if event.name == "use":
            self._used.append((event.shown["id"], event.shown["lot"]))
        if event.name == "keep":
            sac, cap, _ = (each["lot"] for each in event.shown["components"])
            self._lots.append(sac)
            self._donors += [(event.shown["number"], lot) for lot in (sac, cap)]
            self._strays.append((sac, 1))

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
        body["reason" if name == "drawer_count" else "note"] = mark
        return Request(name, path, body, f"key-{mark}" if keyed else None)

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
        body = {"lot": self._lot(), **self._some(3, 0.1), "override": "whatever it measures"}
        body |= {"move": False} if self.dice.random() < 0.2 else {}
        return "reserve", f"/v1/jobs/{self._job()}/reservations", body

    def _reserve_best(self) -> tuple[str, str, dict[str, Any]]:
        return "reserve_best", f"/v1/jobs/{self._job()}/reservations", {}

    def _tonight(self) -> tuple[str, str, dict[str, Any]]:
        jobs = sorted({self._job(), self._job()})
        return "tonight", "/v1/tonight/reservations", {"jobs": jobs}

    def _verb(self) -> tuple[str, str, dict[str, Any]]:
        (verb,) = self.dice.choices(("fetch", "use", "release", "spoil"), (9, 11, 7, 3))
        body = self._some(2, 0.4)
        if verb == "spoil" and self.dice.random() < 0.5:
            body["reserve_next"] = True
        return verb, f"/v1/reservations/{self._reservation()}/{verb}", body

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
        body = {"anyway": "the race is over"} if end == "close" else {}
        return end, f"/v1/jobs/{self._job()}/{end}", body

    def _cut(self) -> tuple[str, str, dict[str, Any]]:
        """Cut what has a length; a ring is tried once."""
        lot = self._lot()
        if lot in self._without_length:
            return self._reserve()
        body = {"length": f"{self.dice.randint(30, 70)} mm", **self._some(2, 0.6)}
        return "cut", f"/v1/lots/{lot}/cut", body | self._give_up(lot)

    def _put_back(self) -> tuple[str, str, dict[str, Any]]:
        if not self._used:
            return self._verb()
        reservation, lot = self.dice.choice(self._used)
        body = {"reservation": reservation, "condition": "used", **self._some(2, 0.5)}
        return "put_back", f"/v1/lots/{lot}/put-back", body

    def _undo(self) -> tuple[str, str, dict[str, Any]]:
        """Undo an act of one's own, or by guessing at numbers anybody's."""
        if self._groups and self.dice.random() < 0.5:
            group = self.dice.choice(self._groups)
        else:
            group = max(1, self._newest_group + self.dice.randrange(-NEAR, 3 * NEAR))
        return "undo", f"/v1/movements/{group}/undo", {}

    def _keep(self) -> tuple[str, str, dict[str, Any]]:
        """Keep a donor: its sac is what everybody is after, and its cap has a clip on it."""
        latex = {"measured": SAC_OF_A_DONOR, "material": "latex"}
        sac = {"kind": "sac", "state": "present", **latex}
        cap, clip = ({"kind": kind, "state": "present"} for kind in ("cap", "clip"))
        return "keep", "/v1/donors", {"called": "wreck", "components": [sac, cap, clip | ON_IT]}

    def _strip(self) -> tuple[str, str, dict[str, Any]]:
        if not self._donors:
            return self._move()
        donor, lot = self.dice.choice(self._donors)
        body = {"lots": [lot], "drawer": self.dice.choice(DRAWERS)}
        return "strip", f"/v1/donors/{donor}/strip", body

    def _count_drawer(self) -> tuple[str, str, dict[str, Any]]:
        """Count what should lie in a drawer, for all one knows."""
        drawer = self.dice.choice(DRAWERS)
        there = [lot for lot, place in self._places.items() if place == drawer]
        lots = sorted({lot for lot in there if lot in self._workshop.lots} | set(there[-2:]))
        if not lots:
            return self._count()
        counts = [{"lot": lot, "counted": self.dice.randint(1, 7)} for lot in lots]
        body = {"counts": counts, "release": self._give_up(lots[0]).get("release", [])}
        return "drawer_count", f"/v1/drawers/{drawer}/counts", body
