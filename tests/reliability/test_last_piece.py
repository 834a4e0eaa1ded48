"""Races after the last piece over HTTP, all at the same moment, on both databases.

ASVS 5.0.0 requirement 2.3.4: a thing of limited quantity cannot be booked twice.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

import pytest
from flask import Flask
from waitress.server import create_server

from support.api import Api
from support.history import Event, Request
from support.load import Caller

pytestmark = pytest.mark.differs

ASKERS = 16


@pytest.fixture
def served(app: Flask) -> Iterator[str]:
    """The service behind its real server; gives the address."""
    server = create_server(app, host="127.0.0.1", port=0, threads=8, ident=None)
    thread = threading.Thread(target=server.run)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    # A thread that has just answered still wakes the loop, which closes its own sockets at the end.
    server.task_dispatcher.shutdown()
    server.trigger.pull_trigger(lambda: server.asyncore.close_all(server._map))
    thread.join(timeout=10)
    assert not thread.is_alive()


def at_once(address: str, token: str, requests: Sequence[Request]) -> list[Event]:
    """Send every request at the same moment."""
    barrier = threading.Barrier(len(requests))
    events: list[Event] = []

    def ask(request: Request) -> None:
        caller = Caller(address, token)
        barrier.wait()
        events.append(caller.send(request))
        caller.close()

    threads = [threading.Thread(target=ask, args=(request,)) for request in requests]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return events


@pytest.mark.parametrize("named", [False, True], ids=["best set", "named lot"])
def test_sixteen_askers_over_http_and_one_last_piece(
    served: str, api: Api, token_of: Callable[[str], str], *, named: bool
) -> None:
    """Of sixteen requests for the last piece one is granted and fifteen are refused with 409."""
    lot = api.stock(quantity=1)
    body = {"lot": lot["id"], "quantity": 1} if named else {}
    requests = [
        Request("reserve", f"/v1/jobs/{api.job()}/reservations", body) for _ in range(ASKERS)
    ]
    events = at_once(served, token_of("write"), requests)
    assert Counter(event.status for event in events) == {201: 1, 409: ASKERS - 1}
    assert {event.content_type for event in events if event.status == 409} == {
        "application/problem+json"
    }
    after = api.get(f"/v1/lots/{lot['id']}").body
    assert (after["in_hand"], after["promised"], after["available"]) == (1, 1, 0)


def test_same_key_at_once_has_one_effect(
    served: str, api: Api, token_of: Callable[[str], str]
) -> None:
    """Eight requests with one key at the same moment reserve once, and all get its answer."""
    lot = api.stock(quantity=50)
    body = {"lot": lot["id"], "quantity": 3}
    request = Request("reserve", f"/v1/jobs/{api.job()}/reservations", body, "one")
    events = at_once(served, token_of("write"), [request] * 8)
    assert len({(event.status, event.text) for event in events}) == 1
    assert Counter(event.replayed for event in events) == {True: 7, False: 1}
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 3
