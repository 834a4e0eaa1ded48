"""Photographs at the bench: taken with the phone, seen by whoever is signed in."""

from __future__ import annotations

import io
from typing import Any

import pytest
from flask import Flask
from sqlalchemy.exc import OperationalError

from sparewell.photographs import operations
from sparewell.photographs.operations import Pictured
from sparewell.photographs.tables import Photograph
from sparewell.work import Work
from support.api import Api
from support.bench import Bench
from support.pictures import chunk, png


def form_with(picture: bytes, form_token: str) -> tuple[bytes, str]:
    """Return a form as a browser sends it; the test client's own leaves large ones in files."""
    parts = [
        b'--edge\r\nContent-Disposition: form-data; name="form_token"\r\n\r\n',
        form_token.encode(),
        b'\r\n--edge\r\nContent-Disposition: form-data; name="picture"; filename="a.png"\r\n',
        b"Content-Type: image/png\r\n\r\n",
        picture,
        b"\r\n--edge--\r\n",
    ]
    return b"".join(parts), "multipart/form-data; boundary=edge"


def test_a_picture_is_kept_and_seen(bench: Bench, api: Api, app: Flask) -> None:
    """The page shows it with its note; a stranger does not get to see it."""
    number, picture = api.pen(), png()
    sent = {"picture": (io.BytesIO(picture), "crack.png", "image/png"), "note": "the crack"}
    page = bench.post(f"/pens/{number}/photographs", sent)
    assert page.path == f"/pens/{number}/photographs", page.problems
    assert "The photograph is kept." in page.text
    assert 'alt="the crack"' in page.html
    assert "25 Nov 2026, 12:00" in page.text, "the day it was taken in"
    assert "At most 8.4 MB" in page.text
    seen = bench.client.get("/photographs/1")
    assert (seen.mimetype, seen.get_data()) == ("image/png", picture)
    assert app.test_client().get("/photographs/1").status_code == 303
    (kept,) = api.get(f"/v1/pens/{number}/photographs").body["photographs"]
    assert (kept["note"], kept["person"]) == ("the crack", "Odra")


def test_a_picture_survives_a_lost_race(
    bench: Bench, api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the database undoes the first try, the second one has the whole picture too."""
    number, picture, tries = api.pen(), png(), []
    keep = operations.add_photograph

    def lost_once(work: Work, pictured: Pictured, data: bytes, **said: Any) -> Photograph:
        tries.append(len(data))
        if len(tries) == 1:
            raise OperationalError("", {}, _Lost())
        return keep(work, pictured, data, **said)

    monkeypatch.setattr(operations, "add_photograph", lost_once)
    sent = {"picture": (io.BytesIO(picture), "crack.png", "image/png")}
    page = bench.post(f"/pens/{number}/photographs", sent)
    assert "The photograph is kept." in page.text
    assert tries == [len(picture)] * 2


class _Lost(Exception):  # noqa: N818 - what a driver reports
    sqlstate = "40001"


def test_a_picture_larger_than_other_forms_may_be_is_taken(bench: Bench, api: Api) -> None:
    """A picture of some megabytes passes, while any other form of that size is refused."""
    number = api.pen()
    large = png(around=chunk(b"tEXt", b"x" * 3_000_000))
    data, media_type = form_with(large, bench.form_token)
    answer = bench.client.post(f"/pens/{number}/photographs", data=data, content_type=media_type)
    assert answer.status_code == 303
    assert len(api.get(f"/v1/pens/{number}/photographs").body["photographs"]) == 1
    assert bench.post("/pens/new", called="x" * 3_000_000).status == 413


def test_what_is_no_picture_is_refused_on_the_page(bench: Bench, api: Api) -> None:
    """The page says what is accepted, and keeps nothing."""
    number = api.pen()
    sent = {"picture": (io.BytesIO(b"not a picture"), "x.png", "image/png"), "note": ""}
    page = bench.post(f"/pens/{number}/photographs", sent)
    assert page.status in {415, 422}
    assert "JPEG" in page.problems[0]
    assert api.get(f"/v1/pens/{number}/photographs").body["photographs"] == []
