"""`python -m support.hand_written ADDRESS`: promises as somebody would write them in an evening.

Flask, one route a verb, the driver itself, one conditional UPDATE, a reservation, a line of a
ledger and one commit as durable as ours: the peer that the service's verbs are measured against.
It is served by the same server.
"""

from __future__ import annotations

import sqlite3
import sys
import threading
from collections.abc import Callable
from typing import Any

import psycopg
from flask import Flask, Response, jsonify, request
from sqlalchemy import make_url

from sparewell.app.server import bind, serve_app

TABLES = (
    (
        "CREATE TABLE lot (id INTEGER PRIMARY KEY, in_hand BIGINT NOT NULL, "
        "promised BIGINT NOT NULL, CHECK (0 <= promised AND promised <= in_hand))"
    ),
    (
        "CREATE TABLE reservation (id {identity}, lot_id INTEGER NOT NULL, job TEXT NOT NULL, "
        "quantity BIGINT NOT NULL, state TEXT NOT NULL)"
    ),
    (
        "CREATE TABLE line (id {identity}, lot_id INTEGER NOT NULL, "
        "reservation_id BIGINT NOT NULL, verb TEXT NOT NULL, change BIGINT NOT NULL)"
    ),
    "INSERT INTO lot VALUES (1, 100000000, 0)",
)
PROMISE = (
    "UPDATE lot SET promised = promised + ? WHERE id = ? AND in_hand - promised >= ? RETURNING id"
)
RESERVE = (
    "INSERT INTO reservation (lot_id, job, quantity, state) VALUES (?, ?, ?, 'held') RETURNING id"
)
NEXT = (
    "UPDATE reservation SET state = ? WHERE id = ? AND state <> 'used' RETURNING lot_id, quantity"
)
TAKE = "UPDATE lot SET in_hand = in_hand - ?, promised = promised - ? WHERE id = ?"
WRITE = "INSERT INTO line (lot_id, reservation_id, verb, change) VALUES (?, ?, ?, ?)"
Execute = Callable[..., Any]


class Kept:
    """One connection a thread, and a transaction for each request."""

    def __init__(self, address: str) -> None:
        self._address = make_url(address)
        self._here = threading.local()
        self._turn = threading.Lock()
        self.is_sqlite = self._address.get_backend_name() == "sqlite"

    def transaction(self, act: Callable[[Execute], Any]) -> Any:
        """Run statements in one transaction, and commit it."""
        if not self.is_sqlite:
            with self._connection().transaction():
                return act(self._execute)
        with self._turn:
            connection = self._connection()
            connection.execute("BEGIN IMMEDIATE")
            try:
                answer = act(self._execute)
                connection.execute("COMMIT")
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            return answer

    def _execute(self, statement: str, *values: Any) -> Any:
        if not self.is_sqlite:
            statement = statement.replace("?", "%s")
        return self._connection().execute(statement, values)

    def _connection(self) -> Any:
        if not hasattr(self._here, "connection"):
            self._here.connection = self._connect()
        return self._here.connection

    def _connect(self) -> Any:
        if not self.is_sqlite:
            url = self._address.set(drivername="postgresql")
            text = url.render_as_string(hide_password=False)
            return psycopg.connect(text, autocommit=True)
        connection = sqlite3.connect(str(self._address.database), isolation_level=None)
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        return connection

    def make(self) -> None:
        """Make the tables, and a bag that never runs out."""
        identity = "INTEGER PRIMARY KEY" if self.is_sqlite else "BIGSERIAL PRIMARY KEY"
        for statement in TABLES:
            self._connection().execute(statement.format(identity=identity))


def peer(kept: Kept) -> Flask:
    """Return the application."""
    app = Flask(__name__)

    @app.post("/v1/jobs/<job>/reservations")
    def reserve(job: str) -> Response | tuple[str, int]:
        said = request.get_json()
        lot, quantity = said["lot"], said["quantity"]

        def act(execute: Execute) -> Any:
            if execute(PROMISE, quantity, lot, quantity).fetchone() is None:
                return None
            (row,) = execute(RESERVE, lot, job, quantity).fetchone()
            execute(WRITE, lot, row, "reserved", 0)
            return row

        made = kept.transaction(act)
        if made is None:
            return "too few", 409
        return jsonify(reservations=[{"id": made, "lot": lot, "job": job, "quantity": quantity}])

    @app.post("/v1/reservations/<int:row>/<verb>")
    def act_on(row: int, verb: str) -> Response | tuple[str, int]:
        def act(execute: Execute) -> Any:
            state = "used" if verb == "use" else "in_tray"
            found = execute(NEXT, state, row).fetchone()
            if found is not None:
                lot, quantity = found
                if verb == "use":
                    execute(TAKE, quantity, quantity, lot)
                execute(WRITE, lot, row, verb, -quantity if verb == "use" else 0)
            return found

        found = kept.transaction(act)
        if found is None:
            return "it has ended", 409
        return jsonify(id=row, lot=found[0], quantity=found[1], state=verb)

    return app


def main() -> None:
    """Make the tables and serve."""
    kept = Kept(sys.argv[1])
    kept.make()
    listener = bind("127.0.0.1", 0)
    sys.stdout.write(f"listens on http://127.0.0.1:{listener.getsockname()[1]}\n")
    sys.stdout.flush()
    serve_app(peer(kept), listener, body_limit_bytes=1_000_000)


if __name__ == "__main__":
    main()
