"""The log: lines that machines read, the numbers that people read out, and no secret."""

from __future__ import annotations

import io
import json
import logging
import subprocess
import time
from typing import Any

import pytest
import urllib3

from sparewell.app.log import MOST_WAITING, kept_log, without_secrets


def ask(running: Any, path: str, token: str | None = None, **options: Any) -> Any:
    """Send a request and return the answer."""
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    method = options.pop("method", "GET")
    return urllib3.request(
        method, running.url + path, headers=headers, retries=False, timeout=30, **options
    )


def lines_of(running: Any) -> list[dict[str, Any]]:
    """End a server and return its log."""
    assert running.end() == 0
    text = running.err_file.read_text().splitlines()
    return [json.loads(line) for line in text if line.startswith("{")]


def test_a_refusal_and_its_line_have_one_number(migrated: Any) -> None:
    """By default a refused request has a line with its number, and one that went well has none."""
    token = migrated.run("token", "new", "bench", "--scope", "read").out.strip()
    with migrated.serve() as running:
        assert ask(running, "/v1/kinds", token).status == 200
        refused = ask(running, "/v1/lots/7", token).json()
        lines = lines_of(running)
    (line,) = [line for line in lines if line["says"] == "answered"]
    assert line["request"] == refused["request"]
    assert (line["level"], line["method"], line["path"]) == ("warning", "GET", "/v1/lots/7")
    assert (line["status"], line["token"], line["from"]) == (404, "bench", "127.0.0.1")
    assert 0 <= line["milliseconds"] < 30_000
    assert line["at"].endswith("+00:00")


def test_levels_say_how_much_is_logged(migrated: Any) -> None:
    """At info every request has a line, at error none that was only refused."""
    for level, expected in (("info", [200, 401]), ("error", [])):
        with migrated.serve(SPAREWELL_LOG_LEVEL=level) as running:
            ask(running, "/health/live")
            ask(running, "/v1/lots")
            statuses = [line["status"] for line in lines_of(running) if "status" in line]
        assert statuses == expected
    ran = migrated.run("serve", SPAREWELL_LOG_LEVEL="loud")
    assert ran.status == 2
    assert "info, warning, error" in ran.err


def test_no_secret_is_logged(migrated: Any) -> None:
    """Tokens do not reach the log, good or wrong, in their header or where they do not belong."""
    good = migrated.run("token", "new", "good", "--scope", "write").out.strip()
    spent = migrated.run("token", "new", "spent", "--scope", "write").out.strip()
    migrated.run("token", "revoke", "spent")
    wrong = f"spare-{'w' * 43}"
    with migrated.serve(SPAREWELL_LOG_LEVEL="info") as running:
        for token in (good, spent, wrong):
            ask(running, "/v1/kinds", token)
            ask(running, f"/v1/lots?token={token}", good)
            ask(running, f"/v1/drawers/{token}", good)
            ask(running, "/v1/drawers", good, method="POST", json={"code": "A1", "note": token})
            ask(running, "/v1/drawers", good, method="POST", body=f'{{"code":{token}')
        running.process.terminate()
        running.process.wait(30)
        everything = running.err_file.read_text() + running.out()
    assert '"status": 401' in everything
    for token in (good, spent, wrong):
        assert token not in everything
        assert token[6:] not in everything


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("postgresql+psycopg://ada:s3cret@db/pens", "postgresql+psycopg://ada:***@db/pens"),
        ("Authorization: Bearer abc.def", "Authorization: Bearer ***"),
        ("the code spare-part", "the code spare-part"),
        ("http://127.0.0.1:8417/v1/lots", "http://127.0.0.1:8417/v1/lots"),
    ],
)
def test_secrets_are_struck_out_and_nothing_else(text: str, expected: str) -> None:
    """Passwords in addresses and bearer tokens go, plain words and addresses stay."""
    assert without_secrets(text) == expected


def test_a_failure_is_logged_with_its_trace_on_one_line() -> None:
    """An exception's trace is a member of the line, and secrets are struck out of it too."""
    stream = io.StringIO()
    with kept_log("warning", stream):
        error = RuntimeError("postgresql://ada:s3cret@db/pens said\nno")
        fields = {"fields": {"request": "abc"}}
        logging.getLogger("sparewell.test").error("broken", exc_info=error, extra=fields)
    (line,) = stream.getvalue().splitlines()
    found = json.loads(line)
    assert (found["says"], found["request"], found["level"]) == ("broken", "abc", "error")
    assert "RuntimeError" in found["trace"]
    assert "s3cret" not in line


@pytest.mark.rest
def test_a_log_that_nobody_reads_stops_nothing(migrated: Any) -> None:
    """With standard error full and unread, requests are answered all the same, and it ends well."""
    environment = migrated.environ({"SPAREWELL_LOG_LEVEL": "info"})
    with subprocess.Popen(
        [migrated.program, "serve", "--port", "0"],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout
        url = next(word for word in process.stdout.readline().split() if word.startswith("http"))
        pool = urllib3.PoolManager()
        path = f"{url}/v1/{'x' * 190}"
        statuses = {pool.request("GET", path, timeout=10).status for _ in range(600)}
        assert statuses == {401}
        began = time.monotonic()
        process.terminate()
        assert process.wait(30) == 0
        assert time.monotonic() - began < 15


def test_lines_that_had_to_be_dropped_are_counted() -> None:
    """A reader who comes back hears how many lines are missing."""

    class Slow(io.StringIO):
        """A reader who begins only when told."""

        ready = False

        def write(self, text: str) -> int:
            while not self.ready:
                time.sleep(0.01)
            return super().write(text)

    stream = Slow()
    surplus = 7
    with kept_log("warning", stream):
        log = logging.getLogger("sparewell.test")
        log.warning("first")
        time.sleep(0.1)
        for number in range(MOST_WAITING + surplus):
            log.warning("%d", number)
        stream.ready = True
        time.sleep(0.1)
    lines = [json.loads(line) for line in stream.getvalue().splitlines()]
    assert sum(line.get("dropped", 0) for line in lines) == surplus
    assert len([line for line in lines if "dropped" not in line]) == MOST_WAITING + 1
