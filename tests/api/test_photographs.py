"""Photographs of pens and donors: in and out as they are, without what they say of places."""

from __future__ import annotations

import hashlib
import random
import threading
import zlib
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from flask import Flask

from sparewell.app.owners import owners_of_tables
from sparewell.database import migrate
from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.edge.context import EXTENSION
from sparewell.photographs.operations import MOST_PER_PEN, altered
from sparewell.photographs.pictures import PictureError, read_picture
from sparewell.photographs.tables import PhotographImage
from support.api import Api, Reply
from support.pictures import (
    SECRET,
    chunk,
    exif,
    extended,
    jpeg,
    jpeg_profile,
    lossless,
    lossy,
    png,
    profile,
    riff,
    segment,
    tiff,
)

SMALLEST_EXIF = segment(
    0xE1, b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0"
)
JFIF = segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0")
ADOBE = b"Adobe\0\x64\0\0\0\0\1"
NOTHING = bytes(len(SECRET))


def packed(name: bytes, whole: bytes) -> bytes:
    """Return the piece of a PNG that holds a colour profile."""
    return chunk(b"iCCP", name + b"\0\0" + zlib.compress(whole))


PURE: list[tuple[bytes, str, int, int, int | None]] = [
    (jpeg(40, 30), "image/jpeg", 40, 30, None),
    (jpeg(40, 30, around=SMALLEST_EXIF), "image/jpeg", 40, 30, 6),
    (jpeg(40, 30, around=jpeg_profile(profile())), "image/jpeg", 40, 30, None),
    (jpeg(40, 30, around=segment(0xEE, ADOBE)), "image/jpeg", 40, 30, None),
    (png(4, 3), "image/png", 4, 3, None),
    (png(4, 3, around=chunk(b"pHYs", b"\0" * 9)), "image/png", 4, 3, None),
    (riff(lossy(600, 400)), "image/webp", 600, 400, None),
    (riff(lossless(16383, 7)), "image/webp", 16383, 7, None),
    (riff(extended(50, 60, 0x20), (b"ICCP", profile()), lossy(50, 60)), "image/webp", 50, 60, None),
]
TELLING: list[tuple[bytes, bytes]] = [
    (jpeg(around=exif(6)), jpeg(around=SMALLEST_EXIF)),
    (jpeg(around=exif(None)), jpeg()),
    (jpeg(around=exif(9)), jpeg()),
    (jpeg(around=segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + SECRET)), jpeg()),
    (jpeg(around=segment(0xED, b"Photoshop 3.0\0" + SECRET)), jpeg()),
    (jpeg(around=segment(0xFE, SECRET)), jpeg()),
    (jpeg(around=segment(0xE2, b"MPF\0" + SECRET)), jpeg()),
    (jpeg(behind=jpeg(around=exif(1))), jpeg()),
    (png(around=chunk(b"tEXt", b"Location\0" + SECRET)), png()),
    (png(around=chunk(b"iTXt", SECRET) + chunk(b"zTXt", SECRET)), png()),
    (png(around=chunk(b"eXIf", tiff(None))), png()),
    (png(around=chunk(b"eXIf", tiff(6, ">"))), png(around=chunk(b"eXIf", SMALLEST_EXIF[10:]))),
    (png(behind=SECRET), png()),
    (
        riff(extended(5, 6, 0x2C), lossy(5, 6), (b"EXIF", tiff(6)), (b"XMP ", SECRET)),
        riff(extended(5, 6, 0x08), lossy(5, 6), (b"EXIF", SMALLEST_EXIF[10:])),
    ),
    (
        riff(extended(5, 6, 0x2C), lossy(5, 6), (b"EXIF", tiff(None)), (b"XMP ", SECRET)),
        riff(extended(5, 6, 0), lossy(5, 6)),
    ),
    (riff(lossless(5, 6), (b"mine", SECRET)), riff(lossless(5, 6))),
    (jpeg(around=segment(0xE0, b"JFXX\0\x10" + SECRET)), jpeg()),
    (jpeg().replace(JFIF, segment(0xE0, JFIF[4:-2] + b"\1\1rgb" + SECRET)), jpeg()),
    (jpeg(around=segment(0xEE, ADOBE + SECRET)), jpeg(around=segment(0xEE, ADOBE))),
    (jpeg(around=segment(0xEE, SECRET)), jpeg()),
    (jpeg(around=jpeg_profile(profile(SECRET))), jpeg(around=jpeg_profile(profile(NOTHING)))),
    (jpeg(around=jpeg_profile(SECRET)), jpeg()),
    (png(around=chunk(b"sPLT", SECRET)), png()),
    (png(around=chunk(b"MINE", SECRET)), png()),
    (
        png(around=packed(b"home", profile(SECRET))),
        png(around=packed(b"profile", profile(NOTHING))),
    ),
    (
        riff(extended(5, 6, 0x20), (b"ICCP", profile(SECRET)), lossy(5, 6)),
        riff(extended(5, 6, 0x20), (b"ICCP", profile(NOTHING)), lossy(5, 6)),
    ),
]
NO_PICTURES = [
    (b"", "send the picture itself"),
    (b"GIF89a" + b"\0" * 20, "no JPEG, PNG or WebP"),
    (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no JPEG, PNG or WebP"),
    (b"\0\0\0\x18ftypheic" + b"\0" * 20, "can be told to take JPEG"),
    (b"%PDF-1.7", "no JPEG, PNG or WebP"),
    (b"\xff\xd8\xff", "JPEG is broken"),
    (b"\xff\xd8\xff\xd9", "JPEG is broken"),
    (jpeg()[:-2], "JPEG is broken"),
    (jpeg(around=b"\xff\xe1\0\0"), "JPEG is broken"),
    (jpeg(around=b"rubbish"), "JPEG is broken"),
    (jpeg(around=b"\xff\xd8\0\2"), "JPEG is broken"),
    (png()[:-1], "PNG is broken"),
    (png().replace(b"IDAT", b"IDAt"), "PNG is broken"),
    (png(around=chunk(b"gAMA", b"1234").replace(b"1234", b"1235")), "PNG is broken"),
    (png()[:8], "PNG is broken"),
    (png()[:8] + chunk(b"IEND", b""), "PNG is broken"),
    (riff(lossy(5, 6))[:-1], "WebP is broken"),
    (riff(extended(5, 6, 0)), "WebP is broken"),
    (riff((b"VP8 ", b"short")), "WebP is broken"),
    (riff(extended(5, 6, 2), (b"ANIM", b"123456"), (b"ANMF", b"")), "moving picture"),
    (jpeg(0, 30), "0 by 30 pixels; from 1 to 16384"),
    (jpeg(16385, 1), "16385 by 1 pixels"),
    (png(1, 16385), "1 by 16385 pixels"),
    (jpeg(16000, 16000), "120 million in all"),
]


def send(api: Api, picture: bytes, to: str, **headers: str) -> Reply:
    """Send a picture."""
    headers.setdefault("Content_Type", "image/jpeg")
    return api.call("POST", f"/v1/{to}", raw=picture, **headers)


def kept(api: Api, picture: bytes, to: str) -> dict[str, Any]:
    """Send a picture that has to be taken in."""
    reply = send(api, picture, to)
    assert reply.status == 201, reply.text
    return dict(reply.body)


@pytest.fixture
def pen(api: Api) -> str:
    """Where the photographs of a pen are."""
    return f"pens/{api.pen()}/photographs"


@pytest.mark.parametrize(("picture", "media_type", "width", "height", "orientation"), PURE)
def test_a_picture_comes_out_as_it_went_in(
    api: Api,
    pen: str,
    picture: bytes,
    media_type: str,
    width: int,
    height: int,
    orientation: int | None,
) -> None:
    """A picture that says nothing besides is kept byte for byte, with its size and type."""
    reply = send(api, picture, f"{pen}?note=cap%20band&taken_on=2026-11-20", Content_Type="x/y")
    assert reply.status == 201, reply.text
    assert reply.headers["Location"] == "/v1/photographs/1"
    found = api.get("/v1/photographs/1")
    assert found.body == reply.body
    assert found.headers["ETag"] == reply.headers["ETag"]
    assert {name: found.body[name] for name in ("width_pixels", "height_pixels")} == {
        "width_pixels": width,
        "height_pixels": height,
    }
    assert found.body["media_type"] == media_type
    assert found.body["orientation"] == orientation
    assert found.body["size_bytes"] == len(picture)
    assert found.body["sha256"] == hashlib.sha256(picture).hexdigest()
    assert (found.body["note"], found.body["taken_on"]) == ("cap band", "2026-11-20")
    assert (found.body["pen"], found.body["donor"]) == ("PEN-0001", None)
    image = api.get(found.body["image"])
    assert (image.data, image.headers["Content-Type"]) == (picture, media_type)


@pytest.mark.parametrize(("picture", "expected"), TELLING)
def test_what_a_file_says_of_places_is_left_out(picture: bytes, expected: bytes) -> None:
    """Exif, texts, second pictures and what stands behind the end go; the turning stays."""
    assert read_picture(picture).data == expected
    assert read_picture(expected).data == expected
    assert SECRET not in expected


@pytest.mark.parametrize(("picture", "says"), NO_PICTURES)
def test_what_is_no_picture_is_refused(api: Api, pen: str, picture: bytes, says: str) -> None:
    """Whatever type is claimed, what is no whole picture of a fair size is refused with 422."""
    reply = send(api, picture, pen)
    assert (reply.status, says in reply.body["detail"]) == (422, True), reply.text
    assert reply.body["errors"][0]["pointer"] == ""
    assert api.get(f"/v1/{pen}").body["photographs"] == []


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("taken_on=yesterday", "must be a day such as 2026-03-01"),
        ("taken=2026-03-01", "accepted: note, taken_on"),
        (f"note={'x' * 2001}", "2000"),
    ],
)
def test_what_is_said_beside_a_picture_is_checked(
    api: Api, pen: str, query: str, says: str
) -> None:
    """A day, a note or a name that cannot be is refused where it stands, with what would do."""
    reply = send(api, png(), f"{pen}?{query}")
    assert reply.status == 422
    (error,) = reply.body["errors"]
    assert (error["parameter"], says in error["detail"]) == (query.partition("=")[0], True)


def test_no_bytes_break_the_reader() -> None:
    """Any picture cut short or with bytes changed is read or refused, and never anything else."""
    dice = random.Random(20261125)  # noqa: S311 - the same at every run
    samples = [line[0] for line in PURE] + [line[0] for line in TELLING]
    refused = 0
    for _ in range(4000):
        raw = bytearray(dice.choice(samples))
        for _ in range(dice.randint(0, 3)):
            raw[dice.randrange(len(raw))] = dice.randrange(256)
        cut = bytes(raw[: dice.randint(1, len(raw))] if dice.random() < 0.5 else raw)
        try:
            first = read_picture(cut)
        except PictureError:
            refused += 1
            continue
        assert read_picture(first.data) == first
    assert 500 < refused < 3900


def test_the_image_is_served_with_care(api: Api, pen: str) -> None:
    """The bytes are cached by their reader alone, never sniffed or run; known ones are 304."""
    image = api.get(kept(api, png(), pen)["image"])
    assert image.headers["Cache-Control"] == "private, no-cache"
    assert image.headers["X-Content-Type-Options"] == "nosniff"
    assert "default-src 'none'; sandbox" in image.headers["Content-Security-Policy"]
    again = api.get("/v1/photographs/1/image", If_None_Match=image.headers["ETag"])
    assert (again.status, again.data) == (304, b"")
    assert api.get("/v1/photographs/1").headers["Cache-Control"] == "no-store"
    assert api.get("/v1/photographs/2/image").status == 404


def test_a_repeat_with_a_key_has_one_effect(api: Api, pen: str) -> None:
    """The same bytes with the same key are answered alike; other bytes with it are 422."""
    first = send(api, png(), pen, Idempotency_Key="one")
    again = send(api, png(), pen, Idempotency_Key="one")
    assert (again.status, again.body) == (201, first.body)
    assert again.headers["Idempotency-Replayed"] == "true"
    other = send(api, png(grey=1), pen, Idempotency_Key="one")
    assert (other.status, "another body" in other.body["detail"]) == (422, True)
    assert len(api.get(f"/v1/{pen}").body["photographs"]) == 1


def test_a_photograph_has_a_limit_of_its_own(app: Flask, api: Api, pen: str) -> None:
    """Between the usual limit and its own a photograph is read; over its own it is 413."""
    large = png(1200, 1000, grey=7).replace(
        chunk(b"IEND", b""), chunk(b"IDAT", b"\0" * 2_000_000) + chunk(b"IEND", b"")
    )
    assert len(large) > app.config["MAX_CONTENT_LENGTH"]
    assert api.get(kept(api, large, pen)["image"]).data == large
    reply = send(api, b"\xff\xd8" + b"\0" * (8 * 1024**2), pen)
    assert reply.status == 413
    assert "SPAREWELL_PHOTOGRAPH_LIMIT of 8388608 bytes" in reply.body["detail"]
    assert api.call("POST", "/v1/drawers", raw=b" " * 2_000_000).status == 413
    assert send(api, png(), pen, Content_Encoding="gzip").status == 415


def test_a_pen_has_so_many_photographs(api: Api, pen: str) -> None:
    """The same picture twice and one too many are 409; one that is retired makes room for both."""
    for grey in range(MOST_PER_PEN - 1):
        kept(api, png(grey=grey), pen)
    same = send(api, png(grey=3, behind=b"x"), pen)
    assert (same.status, same.body["detail"]) == (
        409,
        "this very picture of PEN-0001 is photograph 4 already",
    )
    kept(api, png(grey=200), pen)
    full = send(api, png(grey=201), pen)
    assert (full.status, "retire one first" in full.body["detail"]) == (409, True)
    assert api.post("/v1/photographs/4/retire", {"why": "blurred"}).status == 200
    kept(api, png(grey=3), pen)


def test_the_last_place_is_given_once(app: Flask, api: Api, pen: str) -> None:
    """Of two pictures that come at the same moment where one has room, one is taken in."""
    for grey in range(MOST_PER_PEN - 1):
        kept(api, png(grey=grey), pen)
    start = threading.Barrier(2)

    def try_it(grey: int) -> int:
        start.wait()
        return send(Api(app, api.token), png(grey=grey), pen).status

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(try_it, (100, 101))) == [201, 409]
    assert len(api.get(f"/v1/{pen}?limit=500").body["photographs"]) == MOST_PER_PEN


def test_a_release_that_knows_no_photographs_loses_none(
    api: Api, database: Database, pen: str
) -> None:
    """Going back to the tables of before is refused while there is a photograph."""
    kept(api, png(), pen)
    core = owners_of_tables(api.app.extensions[EXTENSION].declared)[0]
    with pytest.raises(migrate.MigrationError, match="1 rows of photograph cannot be kept"):
        migrate.downgrade(database, core, "0004")
    assert api.get("/v1/photographs/1/image").data == png()


def test_a_retired_photograph_stays(api: Api, pen: str) -> None:
    """It leaves the list, with the reason and by whom, and its picture can still be looked at."""
    for grey in range(3):
        kept(api, png(grey=grey), pen)
    assert api.post("/v1/photographs/2/retire").status == 422
    gone = api.post("/v1/photographs/2/retire", {"why": "blurred"}, Sparewell_Person="Ida")
    assert (gone.body["retired_why"], gone.body["retired_by"]) == ("blurred", "Ida")
    again = api.post("/v1/photographs/2/retire", {"why": "still"})
    assert (again.status, "blurred" in again.body["detail"]) == (409, True)

    def listed(query: str) -> list[int]:
        body = api.get(f"/v1/{pen}{query}").body
        return [each["id"] for each in body["photographs"]]

    assert listed("") == [1, 3]
    assert listed("?state=retired") == [2]
    assert listed("?state=all") == [1, 2, 3]
    assert api.get(f"/v1/{pen}?limit=1").body["next"] == f"/v1/{pen}?limit=1&after=1"
    assert api.get("/v1/photographs/2/image").data == png(grey=1)


def test_the_history_of_a_pen_has_its_photographs(api: Api, pen: str) -> None:
    """That one was taken in, and that it was retired and why, stand in the pen's history."""
    kept(api, png(), f"{pen}?note=before")
    api.post("/v1/photographs/1/retire", {"why": "blurred"})
    events = api.get("/v1/pens/PEN-0001/history").body["history"]
    told = [(each["what"], each["note"]) for each in events if "photograph" in each["details"]]
    assert told == [("photographed", "before"), ("photograph_retired", "blurred")]


def test_a_pen_that_becomes_a_donor_shows_its_photographs_on_both(api: Api, pen: str) -> None:
    """Those of before and those of after are listed under either number, and name both."""
    kept(api, png(grey=1), pen)
    donor = api.post("/v1/pens/PEN-0001/to-donor").body["number"]
    second = kept(api, png(grey=2), f"donors/{donor}/photographs")
    assert (second["pen"], second["donor"]) == ("PEN-0001", donor)
    of_pen = api.get(f"/v1/{pen}").body["photographs"]
    assert [each["id"] for each in of_pen] == [1, 2]
    assert {each["donor"] for each in of_pen} == {donor}
    assert api.get(f"/v1/donors/{donor}/photographs").body["photographs"] == of_pen


def test_a_donor_that_was_no_pen_has_photographs_of_its_own(api: Api, pen: str) -> None:
    """They are the donor's and nobody else's; of what is not there, none are taken in."""
    kept(api, png(grey=1), pen)
    donor = api.post("/v1/donors", {"called": "a wreck"}).body["number"]
    mine = kept(api, png(grey=1), f"donors/{donor}/photographs")
    assert (mine["pen"], mine["donor"]) == (None, donor)
    listed = api.get(f"/v1/donors/{donor}/photographs").body["photographs"]
    assert [each["id"] for each in listed] == [2]
    for nobody in ("pens/PEN-0099", "donors/DON-0099"):
        assert send(api, png(), f"{nobody}/photographs").status == 404
        assert api.get(f"/v1/{nobody}/photographs").status == 404


def test_a_picture_that_was_altered_is_found(api: Api, database: Database, pen: str) -> None:
    """The audit's look at the photographs names the one whose bytes are other or gone."""
    for grey in range(3):
        kept(api, png(grey=grey), pen)
    with read(database) as session:
        assert list(altered(session)) == []

    def alter(session: Any) -> None:
        session.get_one(PhotographImage, 2).data = png(grey=9)
        session.delete(session.get_one(PhotographImage, 3))

    write(database, alter)
    with read(database) as session:
        assert list(altered(session)) == [
            "photograph 3: its picture is not there",
            "photograph 2: its picture is not the one that was taken in",
        ]
