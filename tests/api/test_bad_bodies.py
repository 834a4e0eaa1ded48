"""Bodies that cannot be read: each is refused with its own status, and nothing is done."""

from __future__ import annotations

import gzip
import json

from support.api import BODY, Api

JSON = "application/json"
DRAWER = b'{"code":"A9"}'
BOM = b"\xef\xbb\xbf"

NO_JSON: list[tuple[bytes, int]] = [
    (b"", 422),
    (b" ", 400),
    (b"{", 400),
    (b'{"code":"A9"', 400),
    (b'{"code":"A9', 400),
    (b'{"code":"A9"} x', 400),
    (DRAWER + DRAWER, 400),
    (DRAWER + b"\x00", 400),
    (b'{"code":"A9",}', 400),
    (b"{'code':'A9'}", 400),
    (b'{"code":01}', 400),
    (b'{"code":"a\nb"}', 400),
    (b'{"code":"\\x41"}', 400),
    (b"not json", 400),
    (b"code=A9", 400),
    (b"<code>A9</code>", 400),
    (BOM + DRAWER, 400),
    (DRAWER.decode().encode("utf-16"), 400),
    (DRAWER.decode().encode("utf-16-le"), 400),
    (DRAWER.decode().encode("utf-32"), 400),
    (gzip.compress(DRAWER), 400),
    (b"\xff\xfe{}", 400),
    (b'{"code":"A\xff"}', 400),
    (b'{"code":"\xed\xa0\x80"}', 400),
    (b'{"code":"\xc0\x80"}', 400),
    (b'{"code":"A9","code":"B9"}', 400),
    (b'{"code":"A9","co\\u0064e":"B9"}', 400),
    (b'{"code":"A9","note":{"x":1,"x":1}}', 400),
    (b'{"code":"A9","note":[[{"x":1,"x":1}]]}', 400),
    (b'{"code":NaN}', 400),
    (b'{"code":Infinity}', 400),
    (b'{"code":-Infinity}', 400),
    (b'{"code":"A9","note":[NaN]}', 400),
    (b'{"code":"\\ud800"}', 400),
    (b'{"\\ud800":1}', 400),
    (b"[" * 100_000, 400),
    (b'{"a":' * 50 + b"1" + b"}" * 50, 400),
    (b"[" * 33 + b"]" * 33, 400),
    (b"[" * 32 + b"]" * 32, 422),
    (b'{"code":' + b"1" * 5000 + b"}", 400),
    (b'{"code":1.' + b"1" * 5000 + b"}", 400),
    (b'{"code":1e400}', 422),
    (b'{"code":1e3000000}', 422),
    (b"null", 422),
    (b"true", 422),
    (b"7", 422),
    (b'"A9"', 422),
    (b"[]", 422),
    (b'[{"code":"A9"}]', 422),
    (b'{"code":{"code":"A9"}}', 422),
    (b'{"code":["A9"]}', 422),
    (b'{"code":"' + b"A" * 1_100_000 + b'"}', 413),
    (b" " * 1_048_577, 413),
]

TYPES: list[tuple[str, int]] = [
    ("", 415),
    ("text/plain", 415),
    ("text/json", 415),
    ("application/xml", 415),
    ("application/vnd.api+json", 415),
    ("application/x-www-form-urlencoded", 415),
    ("multipart/form-data; boundary=x", 415),
    ("application/json, text/plain", 415),
    ("application/json; charset=utf-16", 415),
    ("application/json; charset=latin-1", 415),
    ("\u00fc", 415),
    ('application/json;charset="UTF-8"', 201),
    ("APPLICATION/JSON", 201),
]


CODINGS = [("gzip", 415), ("br", 415), ("identity", 201)]


def test_bodies_that_are_no_json_are_refused(api: Api) -> None:
    """A body that is broken, doubled, too deep, too large or no object is never a 5xx."""
    wrong = []
    for raw, status in NO_JSON:
        reply = api.call("POST", "/v1/drawers", raw=raw, Content_Type=JSON)
        is_problem = reply.headers["Content-Type"] == "application/problem+json"
        if reply.status != status or not is_problem:
            wrong.append((raw[:60], status, reply.status, reply.text[:300]))
    assert not wrong
    assert api.get("/v1/drawers").body["drawers"] == []


def test_bodies_say_that_they_are_json(api: Api) -> None:
    """A good body of another type, of another character set or of none is refused with 415."""
    wrong = []
    for number, (content_type, status) in enumerate(TYPES):
        raw = b'{"code":"B%d"}' % number
        reply = api.call("POST", "/v1/drawers", raw=raw, Content_Type=content_type)
        if reply.status != status:
            wrong.append((content_type, status, reply.status, reply.text[:300]))
    assert not wrong


def test_bodies_are_sent_as_they_are(api: Api) -> None:
    """A coding that would have to be undone first is refused with 415 (RFC 9110 section 8.4)."""
    for coding, status in CODINGS:
        reply = api.call("POST", "/v1/drawers", raw=DRAWER, Content_Encoding=coding)
        assert reply.status == status, (coding, reply.text)


def test_huge_exponent_is_refused_at_once(api: Api) -> None:
    """A number such as 1e3000000 is refused before anything is computed from it."""
    body = json.dumps(BODY | {"barrel_bore": 0}).replace(
        '"barrel_bore": 0', '"barrel_bore": 1e3000000'
    )
    for path in ("/v1/calculators/sac", "/v1/fits/sac"):
        reply = api.call("POST", path, raw=body.encode())
        assert reply.status == 422
        assert [error["pointer"] for error in reply.body["errors"]] == ["/barrel_bore"]


def test_empty_body_counts_as_an_empty_object(api: Api) -> None:
    """A verb that needs nothing may be posted without a body and without a content type."""
    api.stock()
    job = api.job()
    reply = api.call("POST", f"/v1/jobs/{job}/reservations", raw=None)
    assert reply.status == 201
