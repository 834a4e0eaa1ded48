"""What the edge says when the database fails: a definite sentence, a status, never a trace."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError

from sparewell.app.factory import create_app
from sparewell.database.engine import Database, DatabaseError, open_database
from sparewell.database.transaction import Busy, Silent, StorageFull
from sparewell.edge.unit_of_work import RequestInProgress
from sparewell.extend.host import Declarations
from sparewell.places import operations as places
from support.api import Api

pytestmark = pytest.mark.differs


@pytest.mark.parametrize(
    ("failure", "status", "slug"),
    [
        (Busy(), 503, "busy"),
        (StorageFull(), 503, "storage-full"),
        (RequestInProgress(), 409, "request-in-progress"),
        (Silent(), 503, "database-silent"),
        (IntegrityError("INSERT secret", {}, Exception("taken")), 409, "about:blank"),
        (RuntimeError("secret"), 500, "about:blank"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_each_failure_has_its_answer(
    api: Api, monkeypatch: pytest.MonkeyPatch, failure: Exception, status: int, slug: str
) -> None:
    """A failure of the database is a problem document that shows neither SQL nor the cause."""

    def fail(*_arguments: object, **_options: object) -> None:
        raise failure

    monkeypatch.setattr(places, "create_drawer", fail)
    reply = api.post("/v1/drawers", {"code": "A1"})
    assert reply.status == status
    assert reply.body["type"].endswith(slug)
    assert "secret" not in reply.text
    if status == 503:
        assert reply.headers["Retry-After"] == "1"


def test_database_locked_by_another_program_is_503_and_nothing_is_done(
    api: Api, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While another process holds the SQLite file, a write is refused with Retry-After."""
    if database.file is None:
        with database.writer.connect() as other:
            other.exec_driver_sql("LOCK TABLE place IN ACCESS EXCLUSIVE MODE")
            reply = api.post("/v1/drawers", {"code": "A1"})
            other.rollback()
    else:
        monkeypatch.setattr("sparewell.database.transaction.TRIES", 1)
        with closing(sqlite3.connect(database.file, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            reply = api.post("/v1/drawers", {"code": "A1"})
            other.execute("ROLLBACK")
    assert reply.status == 503
    assert reply.headers["Retry-After"]
    assert api.get("/v1/drawers").body["drawers"] == []
    assert api.post("/v1/drawers", {"code": "A1"}).status == 201


@pytest.mark.parametrize(
    "address", ["", "mysql://x/y", "sqlite://", "sqlite:///:memory:", "not an address", "oracle:x"]
)
def test_addresses_of_other_databases_are_refused(address: str) -> None:
    """An address that is neither of the two says what would be accepted."""
    with pytest.raises(DatabaseError, match="sqlite:///FILE"):
        open_database(address)


def test_building_the_app_touches_no_database(declared: Declarations, tmp_path: Path) -> None:
    """The factory opens no connection: it works where no database could ever be."""
    nowhere = open_database(f"sqlite:///{tmp_path}/no/such/folder/x.sqlite3")
    app = create_app(nowhere, declared)
    assert app.test_client().get("/health/live").status_code == 200
    assert app.test_client().get("/health/ready").status_code == 503
