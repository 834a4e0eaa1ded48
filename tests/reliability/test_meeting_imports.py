"""The same file, brought in twice at the same moment."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from flask import Flask

from support.api import Api

pytestmark = pytest.mark.differs
FILE = b"part,drawer,quantity\nSAC-15-STR,A3,7\n"
ROUNDS = 5


def test_of_two_applies_of_one_file_one_is_refused(
    app: Flask, api: Api, token_of: Callable[[str], str]
) -> None:
    """One file that was sent twice, and is applied twice at once, comes in once."""
    api.stock()
    token = token_of("write")
    for number in range(ROUNDS):
        content = FILE + b"\n" * number
        query = f"of=lots&name=cabinet-{number}.csv"
        sent = [
            api.call("POST", f"/v1/imports?{query}", raw=content, Content_Type="text/csv")
            for _ in range(2)
        ]
        assert [each.body["state"] for each in sent] == ["checked", "checked"], sent[1].text
        barrier, statuses = threading.Barrier(2), []

        def apply(import_id: int, barrier: threading.Barrier, statuses: list[int]) -> None:
            client = Api(app, token)
            barrier.wait()
            statuses.append(client.post(f"/v1/imports/{import_id}/apply").status)

        threads = [
            threading.Thread(target=apply, args=(each.body["id"], barrier, statuses))
            for each in sent
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sorted(statuses) == [200, 409]
    brought = [lot for lot in api.get("/v1/lots?limit=500").body["lots"] if lot["in_hand"] == 7]
    assert len(brought) == ROUNDS
