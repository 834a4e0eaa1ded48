"""Clients that load a server over HTTP: in processes of their own, or in threads beside a killer.

A client has one connection that it keeps. It notes every request with its answer, repeats one
request in five under its key, at once, later, or through another process at the same time, and
asks again whatever it was not told the outcome of.
"""

from __future__ import annotations

import http.client
import json
import multiprocessing
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from support.choices import DRAWERS, PART_OF_KIND, Choices, Workshop
from support.history import Event, Final, Request, load, read_final, save

ANSWER_SECONDS = 20.0
PATIENCE_SECONDS = 60.0
RACE_SECONDS = 1800.0
PAUSE_SECONDS = 0.02
THREADS = 5
SHARE_REPEATED = 0.2
HOLDS_LAPSE = "/v1/settings/stock.hold_lapses_after_hours"
SIZES = {
    "sac": {"outside_diameter": "5.9 mm", "inside_diameter": "5.05 mm", "length": "75 mm"},
    "o_ring": {"inside_diameter": "6.07 mm", "cross_section": "1.78 mm"},
}
# What is of unknown material is refused unasked, and nobody could have a best set.
MATERIALS = {"sac": "latex", "o_ring": "nbr"}
PENS: tuple[dict[str, Any], ...] = (
    {
        "called": "lever pen",
        "filling_system": "lever",
        "materials": ["hard rubber"],
        "readings": {
            "barrel_bore": "8.0 mm",
            "bar_height": "0.9 mm",
            "nipple_diameter": "6.4 mm",
            "barrel_depth": "62 mm",
        },
    },
    {
        "called": "pen with two needs",
        "filling_system": "pneumatic",
        "materials": ["hard rubber"],
        "readings": {
            "guard_bore": "7.4 mm",
            "nipple_diameter": "6.2 mm",
            "rod": {"value": "6.2 mm", "instrument": "micrometer", "spread": "0.01 mm"},
            "bore": {"value": "9.4 mm", "instrument": "plug gauge", "spread": "0.01 mm"},
        },
    },
)


class Caller:
    """One connection that is kept, and the events that came over it."""

    def __init__(
        self, address: str, token: str, client: int = -1, *, outlives_crashes: bool = False
    ) -> None:
        place = urlsplit(address)
        self._connection = http.client.HTTPConnection(
            str(place.hostname), place.port, timeout=ANSWER_SECONDS
        )
        self._token, self._client, self._outlives_crashes = token, client, outlives_crashes
        self.events: list[Event] = []

    def send(self, request: Request) -> Event:
        """Send a request, and again until its outcome is told; only a key makes that safe."""
        sent, tries = time.monotonic(), 0
        while time.monotonic() < sent + PATIENCE_SECONDS:
            tries += 1
            try:
                event = replace(self._once(request), sent=sent, tries=tries)
            except (OSError, http.client.HTTPException):
                self._connection.close()
                if not self._outlives_crashes:
                    raise
            else:
                self.events.append(event)
                if event.is_definite:
                    return event
                may_repeat = request.key is not None or request.method != "POST"
                assert may_repeat, f"{request} has no key, and was answered {event.text}"
            time.sleep(PAUSE_SECONDS)
        raise AssertionError(f"no outcome of {request}")

    def _once(self, request: Request) -> Event:
        headers = {"Authorization": f"Bearer {self._token}"}
        data = None
        if request.method == "PATCH":
            headers["If-Match"] = "*"
        if request.method != "GET":
            headers["Content-Type"] = "application/json"
            data = json.dumps(request.body).encode()
        if request.key is not None:
            headers["Idempotency-Key"] = request.key
        self._connection.request(request.method, request.path, data, headers)
        answer = self._connection.getresponse()
        return Event(
            **vars(request),
            client=self._client,
            text=answer.read().decode(),
            answered=time.monotonic(),
            status=answer.status,
            content_type=answer.headers["Content-Type"],
            replayed=answer.headers["Idempotency-Replayed"] == "true",
            retry_after=answer.headers["Retry-After"],
        )

    def ask(self, name: str, path: str, body: Mapping[str, Any]) -> Any:
        """Send what has to be granted; return the document."""
        event = self.send(Request(name, path, body))
        assert event.status in {200, 201}, event.text
        return event.shown

    def get(self, path: str) -> Any:
        """Read a document."""
        event = self._once(Request("read", path, {}, method="GET"))
        assert event.status == 200, event.text
        return event.shown

    def close(self) -> None:
        """Give the connection up."""
        self._connection.close()

    def let_holds_lapse(self, seconds: float) -> None:
        """Change the setting after which holds lapse."""
        headers = {"Authorization": f"Bearer {self._token}", "Content-Type": "application/json"}
        self._connection.request("GET", HOLDS_LAPSE, headers=headers)
        answer = self._connection.getresponse()
        answer.read()
        headers["If-Match"] = str(answer.headers["ETag"])
        body = json.dumps({"value": seconds / 3600, "why": "holds lapse in mid-race"})
        self._connection.request("PATCH", HOLDS_LAPSE, body, headers)
        answer = self._connection.getresponse()
        text = answer.read()
        assert answer.status == 200, text


def furnish(address: str, token: str, hold_seconds: float) -> tuple[Workshop, list[Event]]:
    """Put a few pieces into drawers and pens on the bench; return them, and the events."""
    caller = Caller(address, token)
    for code in DRAWERS:
        caller.ask("drawer", "/v1/drawers", {"code": code})
    for kind, number in PART_OF_KIND.items():
        part = {"number": number, "kind": kind, "dimensions": SIZES[kind]}
        part["material"] = MATERIALS[kind]
        caller.ask("part", "/v1/parts", part)
    pens = [str(caller.ask("pen", "/v1/pens", pen)["number"]) for pen in PENS]
    caller.let_holds_lapse(hold_seconds)
    caller.events.clear()
    lots = []
    for position, kind in enumerate(("sac", "sac", "sac", "o_ring", "o_ring")):
        measured = {"part": PART_OF_KIND[kind], "measured": SIZES[kind], "cost": "2.50"}
        placed = {"drawer": DRAWERS[position % len(DRAWERS)], "quantity": 4}
        body = {**measured, **placed, "note": f"furnished-{position}"}
        lots.append(int(caller.ask("arrive", "/v1/lots", body)["id"]))
    caller.close()
    return Workshop(address, token, tuple(lots), tuple(pens)), caller.events


class Client:
    """One client: its choices, its connection, and what it repeats."""

    def __init__(self, choices: Choices, caller: Caller, twin: Any = None) -> None:
        self._choices, self._caller, self._twin = choices, caller, twin
        self._twin_asks = twin is not None
        self._past: deque[Request] = deque(maxlen=40)

    def step(self) -> None:
        """Ask one thing, and repeat it now and then."""
        self.answer_twin()
        dice = self._choices.dice
        if self._past and dice.random() < SHARE_REPEATED / 3:
            self._caller.send(dice.choice(self._past))
            return
        request = self._choices.next()
        again = request.key is not None and dice.random() < SHARE_REPEATED
        through_twin = again and self._twin is not None and dice.random() < 0.5
        if through_twin:
            self._twin.send(request)
        self._choices.learn(self._caller.send(request))
        if again and not through_twin:
            self._caller.send(request)
        if request.key is not None:
            self._past.append(request)

    def answer_twin(self) -> None:
        """Ask at once what another process is asking at this moment, under its key."""
        while self._twin_asks and self._twin.poll():
            self._take_from_twin()

    def finish(self) -> None:
        """Say that nothing more comes from here, and answer the twin until it says so too."""
        self._twin.send(None)
        while self._twin_asks:
            # The server hangs up on whoever is silent for long; the next request connects again.
            self._caller.close()
            self._take_from_twin()
        self._caller.close()

    def _take_from_twin(self) -> None:
        request = self._twin.recv()
        self._twin_asks = request is not None
        if self._twin_asks:
            self._caller.send(request)


def race(
    workshop: Workshop, seed: int, operations: int, folder: Path, *, clients: int = 8
) -> list[Event]:
    """Let client processes do so many operations between them; return their events."""
    context = multiprocessing.get_context("spawn")
    barrier = context.Barrier(clients)
    ends: list[Any] = []
    for _ in range(clients // 2):
        ends += context.Pipe()
    files = [folder / f"client-{number}.jsonl" for number in range(clients)]
    share = operations // clients
    processes = [
        context.Process(
            target=_race_alone, args=(number, seed, share, workshop, ends[number], barrier, file)
        )
        for number, file in enumerate(files)
    ]
    for process in processes:
        process.start()
    end = time.monotonic() + RACE_SECONDS
    try:
        for process in processes:
            process.join(max(0.0, end - time.monotonic()))
        statuses = [process.exitcode for process in processes]
    finally:
        for process in processes:
            process.kill()
    assert statuses == [0] * clients, f"seed {seed}: the clients ended with {statuses}"
    return [event for file in files for event in load(file)]


def _race_alone(
    number: int, seed: int, share: int, workshop: Workshop, twin: Any, barrier: Any, file: Path
) -> None:
    """Be one client process."""
    caller = Caller(workshop.address, workshop.token, number)
    client = Client(Choices(seed, number, workshop, always_key=False), caller, twin)
    barrier.wait(RACE_SECONDS)
    while len(caller.events) < share:
        client.step()
    client.finish()
    save(caller.events, file)


def under_load(
    workshop: Workshop, seed: int, disturb: Callable[[Callable[[int], None]], None]
) -> list[Event]:
    """Let threads load the server, whatever becomes of it, while it is disturbed.

    What disturbs it is handed a function that waits until so many more answers have come.
    """
    stop = threading.Event()
    callers = [
        Caller(workshop.address, workshop.token, number, outlives_crashes=True)
        for number in range(THREADS)
    ]
    failures: list[BaseException] = []

    def play(number: int) -> None:
        client = Client(Choices(seed, number, workshop, always_key=True), callers[number])
        try:
            while not stop.is_set():
                client.step()
        except BaseException as error:  # noqa: BLE001 - it is raised where the test sees it
            failures.append(error)
        finally:
            callers[number].close()

    def wait_for(answers: int) -> None:
        enough = sum(len(caller.events) for caller in callers) + answers
        end = time.monotonic() + PATIENCE_SECONDS
        while sum(len(caller.events) for caller in callers) < enough and not failures:
            assert time.monotonic() < end, f"seed {seed}: no answers come"
            time.sleep(PAUSE_SECONDS / 4)

    threads = [threading.Thread(target=play, args=(number,)) for number in range(THREADS)]
    for thread in threads:
        thread.start()
    try:
        disturb(wait_for)
    finally:
        stop.set()
        for thread in threads:
            thread.join(PATIENCE_SECONDS + ANSWER_SECONDS)
    assert not failures, f"seed {seed}: {failures[0]!r}"
    return [event for caller in callers for event in caller.events]


def read_all(workshop: Workshop) -> Final:
    """Read how things stand."""
    caller = Caller(workshop.address, workshop.token)
    final = read_final(caller.get)
    caller.close()
    return final


def repeat_all(workshop: Workshop, events: Sequence[Event], most: int) -> list[Event]:
    """Ask again, under their keys, up to so many of the requests of a run."""
    caller = Caller(workshop.address, workshop.token)
    keyed = {event.key: event for event in events if event.key is not None}
    for event in list(keyed.values())[-most:]:
        caller.send(Request(event.name, event.path, event.body, event.key))
    caller.close()
    return caller.events
