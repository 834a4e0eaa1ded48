"""Races after the last piece, on both databases, in processes and over HTTP.

ASVS 5.0.0 requirement 2.3.4: a thing of limited quantity cannot be booked twice.
"""

from __future__ import annotations

import json
import threading
import urllib.error
import urllib.request
from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from flask import Flask
from waitress.server import create_server

from sparewell.database.engine import Database
from support.api import Api
from support.race import check_nothing_promised_twice, race

STOCK = 60
PROCESSES = 8
ASKERS = 16


@pytest.fixture
def contested(api: Api) -> tuple[int, list[str]]:
    """One lot and a job for each asker."""
    lot = api.stock(quantity=STOCK)
    return lot["id"], [api.job() for _ in range(PROCESSES)]


def test_eight_processes_share_the_stock_and_no_more(
    database: Database, database_url: str, contested: tuple[int, list[str]]
) -> None:
    """Eight processes reserving until refused are granted just what there is."""
    lot_id, jobs = contested
    granted = race(database_url, lot_id, jobs)
    check_nothing_promised_twice(database, lot_id, STOCK, granted)


def test_the_race_catches_the_naive_pattern(
    database_url: str, contested: tuple[int, list[str]], database: Database, api: Api
) -> None:
    """With look-compare-write patched in, the same race and the same check fail."""
    lot_id, jobs = contested
    granted = race(database_url, lot_id, jobs, naive=True)
    with pytest.raises(AssertionError):
        check_nothing_promised_twice(database, lot_id, STOCK, granted)
    _mend(database)
    assert api.get(f"/v1/lots/{lot_id}").status == 200


def _mend(database: Database) -> None:
    """Make the ledger true again, so that the fixture's own audit speaks of this test only."""
    with database.writer.begin() as connection:
        connection.exec_driver_sql(
            "UPDATE reservation SET promised = 0, released = quantity, ended_as = 'released'"
        )
        connection.exec_driver_sql(
            f"UPDATE lot SET promised = 0, has_available = {'1' if database.is_sqlite else 'true'}"
        )


@pytest.fixture
def served(app: Flask) -> Iterator[str]:
    """The service behind its real server; gives the address."""
    server = create_server(app, host="127.0.0.1", port=0, threads=8, ident=None)
    thread = threading.Thread(target=server.run)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    server.task_dispatcher.shutdown()
    server.asyncore.close_all(server._map)
    thread.join(timeout=10)


def _post(address: str, token: str, body: object) -> int:
    request = urllib.request.Request(  # noqa: S310 - our own server
        address,
        data=json.dumps(body).encode(),
        headers={"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
            return int(answer.status)
    except urllib.error.HTTPError as error:
        with error:
            is_problem = error.headers["Content-Type"] == "application/problem+json"
            return error.code if is_problem else -1


@pytest.mark.parametrize("named", [False, True], ids=["best set", "named lot"])
def test_sixteen_askers_over_http_and_one_last_piece(
    served: str, api: Api, token_of: Callable[[str], str], *, named: bool
) -> None:
    """Of sixteen requests for the last piece one is granted and fifteen are refused with 409."""
    lot = api.stock(quantity=1)
    jobs = [api.job() for _ in range(ASKERS)]
    token = token_of("write")
    body = {"lot": lot["id"], "quantity": 1} if named else {}
    barrier = threading.Barrier(ASKERS)
    statuses: list[int] = []

    def ask(job: str) -> None:
        barrier.wait()
        statuses.append(_post(f"{served}/v1/jobs/{job}/reservations", token, body))

    threads = [threading.Thread(target=ask, args=(job,)) for job in jobs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Counter(statuses) == {201: 1, 409: ASKERS - 1}
    after = api.get(f"/v1/lots/{lot['id']}").body
    assert (after["in_hand"], after["promised"], after["available"]) == (1, 1, 0)


def test_same_key_at_once_has_one_effect(
    served: str, api: Api, token_of: Callable[[str], str]
) -> None:
    """Eight requests with one key at the same moment reserve once, and all get its answer."""
    lot = api.stock(quantity=50)
    job = api.job()
    token = token_of("write")
    barrier = threading.Barrier(8)
    answers: list[tuple[int, bytes]] = []

    def ask() -> None:
        barrier.wait()
        request = urllib.request.Request(  # noqa: S310
            f"{served}/v1/jobs/{job}/reservations",
            data=json.dumps({"lot": lot["id"], "quantity": 3}).encode(),
            headers={
                "Authorization": f"Bearer {token}",
                "Content-Type": "application/json",
                "Idempotency-Key": "one",
            },
        )
        with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
            answers.append((answer.status, answer.read()))

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 8
    assert len(set(answers)) == 1
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 3
