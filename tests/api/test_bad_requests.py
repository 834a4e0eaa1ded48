"""Addresses, queries, methods and headers that make no sense: each has its exact answer."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from support.api import Api

ADDRESSES: list[tuple[str, int]] = [
    ("/v1", 404),
    ("/v1/lots/", 404),
    ("/v1//lots", 404),
    ("/v1/../v1/lots", 404),
    ("/v1/lots/../parts", 404),
    ("/v1/parts/..", 404),
    ("/v1/parts/%2e%2e", 404),
    ("/v1/parts/%2e%2e%2fparts", 404),
    ("/v1/parts/SAC%2f15", 404),
    ("/v1/parts/SAC%5c15", 404),
    ("/v1/parts/%ff", 404),
    ("/v1/parts/%ed%a0%80", 404),
    ("/v1/parts/%c0%ae", 404),
    ("/v1/parts/%", 404),
    ("/v1/parts/%zz", 404),
    ("/v1/parts/%253f", 404),
    ("/v1/parts/" + "a" * 65, 404),
    ("/v1/lots/1%00", 404),
    ("/v1/lots/01", 404),
    ("/v1/lots/%D9%A1", 404),
    ("/v1/lots/9223372036854775807", 404),
    ("/v1/lots/9223372036854775808", 404),
    ("/v1/jobs/JOB-1", 404),
    ("/v1/jobs/JOB-00001", 404),
    ("/v1/jobs/JOB-%D9%A1%D9%A1%D9%A1%D9%A1", 404),
    ("/v1/jobs/PEN-0001", 404),
    ("/docs/../openapi.json", 404),
    ("/docs/%2e%2e%2fpyproject.toml", 404),
]

QUERIES: list[tuple[str, int]] = [
    ("lots?limit=", 422),
    ("lots?limit", 422),
    ("lots?limit=+5", 422),
    ("lots?limit=1_0", 422),
    ("lots?limit=1.0", 422),
    ("lots?limit=%D9%A3", 422),
    ("lots?limit=1&limit=2", 422),
    ("lots?limit=1&limit=1", 422),
    ("lots?kind=sac&kind=o_ring", 422),
    ("lots?colour=red", 422),
    ("lots?=x", 422),
    ("lots?%ff=1", 422),
    ("lots?part=%ff", 422),
    ("lots?kind=%ff", 200),
    ("lots?kind=%00", 422),
    ("lots?attributes=thread_starts", 422),
    ("lots?attributes=thread_starts:", 422),
    ("lots?attributes=thread_starts:%00", 422),
    ("lots?attributes=%00:3", 422),
    ("lots?attributes=thread_starts:3,", 422),
    ("lots?fit_on=20260301", 422),
    ("lots?fit_on=2026-W09-1", 422),
    ("lots?fit_on=2026-02-29", 422),
    ("lots?fit_on=0000-01-01", 422),
    ("lots?outside_diameter_min=6%20furlong", 422),
    ("lots?outside_diameter_min=1e2", 422),
    ("lots?outside_diameter_min=5&outside_diameter_max=4", 200),
    ("kinds?after=9223372036854775807", 200),
    ("kinds?after=9223372036854775808", 422),
    ("size-tables/as568?after=-1", 422),
    ("drawers?" + "&".join(f"x{number}=1" for number in range(2000)), 422),
]


@pytest.fixture
def stocked(api: Api) -> Api:
    """A service with one lot of ten and one job."""
    api.stock()
    api.job()
    return api


def test_odd_addresses_are_not_found(stocked: Api) -> None:
    """An address that is no object of ours is a 404 with a problem document, never a redirect."""
    wrong = []
    for path, status in ADDRESSES:
        reply = stocked.get(path)
        is_problem = reply.headers["Content-Type"] == "application/problem+json"
        if reply.status != status or not is_problem:
            wrong.append((path, status, reply.status, reply.text[:300]))
    assert not wrong


def test_odd_queries_are_refused_under_their_name(stocked: Api) -> None:
    """A member that is unknown, repeated or misspelt is a 422 that names it."""
    wrong = []
    for query, status in QUERIES:
        reply = stocked.get(f"/v1/{query}")
        errors = reply.body.get("errors", [])
        named = status == 200 or (errors and all("parameter" in error for error in errors))
        if reply.status != status or not named:
            wrong.append((query[:60], status, reply.status, reply.text[:300]))
    assert not wrong


AFTER = [("0", 200), ("2", 200), ("999999", 200), ("-1", 422), ("MQ==", 422)]


def test_forged_page_token_gives_the_rest_of_the_list_or_a_refusal(stocked: Api) -> None:
    """A number that no page gave, or one of another list, only says where to go on."""
    for plural, (after, status) in product(("lots", "movements", "kinds", "settings"), AFTER):
        whole = stocked.get(f"/v1/{plural}?limit=500").body
        reply = stocked.get(f"/v1/{plural}?limit=500&after={after}")
        assert reply.status == status, reply.text
        if status == 200:
            listed = next(rows for name, rows in reply.body.items() if name != "next")
            everything = next(rows for name, rows in whole.items() if name != "next")
            assert listed == everything[len(everything) - len(listed) :]


def test_method_of_another_resource_is_not_allowed(stocked: Api) -> None:
    """405 lists in Allow just the methods there are (RFC 9110 section 15.5.6)."""
    for method in ("PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "MKCOL"):
        reply = stocked.call(method, "/v1/lots")
        assert reply.status == 405, reply.text
        assert set(reply.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS", "POST"}
        assert reply.headers["Content-Type"] == "application/problem+json"


def test_head_and_options_say_what_get_would(stocked: Api) -> None:
    """HEAD has the headers of GET without its body, OPTIONS the methods; neither does anything."""
    got, head = stocked.get("/v1/lots/1"), stocked.call("HEAD", "/v1/lots/1")
    assert (head.status, head.text, head.headers["ETag"]) == (200, "", got.headers["ETag"])
    options = stocked.call("OPTIONS", "/v1/lots/1")
    assert options.status == 200
    assert set(options.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS", "PATCH"}
    assert stocked.call("HEAD", "/v1/lots/2").status == 404


def test_a_calculator_is_described_at_the_address_it_calculates_at(stocked: Api) -> None:
    """What is listed of a calculator stands at its own address, and the document says so."""
    listed = stocked.get("/v1/calculators?limit=500").body["calculators"]
    paths = stocked.get("/openapi.json").body["paths"]
    for calculator in listed:
        address = f"/v1/calculators/{calculator['name']}"
        assert stocked.get(address).body == calculator
        assert {"get", "post"} <= paths[address].keys()


HEADERS: list[tuple[dict[str, Any], int]] = [
    ({"Accept": "text/xml"}, 200),
    ({"Accept": ";;;q=x"}, 200),
    ({"Accept": "application/json;q=0"}, 200),
    ({"Accept_Encoding": "x" * 5000}, 200),
    ({"If_None_Match": '"x'}, 200),
    ({"If_None_Match": "*"}, 304),
    ({"If_None_Match": 'W/"\u00fc"'}, 200),
    ({"If_Modified_Since": "yesterday"}, 200),
    ({"Range": "bytes=5-1"}, 200),
    ({"Cookie": "\x01=\x02"}, 200),
    ({"Content_Type": "\u00fc"}, 200),
    ({"X_HTTP_Method_Override": "DELETE"}, 200),
    ({"Authorization": "Bearer"}, 401),
    ({"Authorization": "Bearer \u00fc"}, 401),
    ({"Authorization": "Bearer " + "x" * 5000}, 401),
    ({"Authorization": "Basic eDp5"}, 401),
    ({"Sparewell_Person": "\u00e9"}, 400),
    ({"Sparewell_Person": "x" * 101}, 400),
    ({"Sparewell_Person": "a\tb"}, 400),
]


def test_odd_headers_have_their_answer(stocked: Api) -> None:
    """What cannot be read in a header is as good as not there, unless it says who is calling."""
    for headers, status in HEADERS:
        reply = stocked.get("/v1/lots/1", **headers)
        assert reply.status == status, (headers, reply.text)


TAGS = [(None, 428), ("", 428), ("x", 412), ('"x"', 412), ('W/"x"', 412), ("*", 200)]


def test_change_needs_the_tag_of_what_is_there(stocked: Api) -> None:
    """A change without If-Match is 428 (RFC 6585), with another tag 412 (RFC 9110)."""
    for tag, status in TAGS:
        headers = {} if tag is None else {"If_Match": tag}
        reply = stocked.call("PATCH", "/v1/lots/1", {"note": "new"}, **headers)
        assert reply.status == status, (tag, reply.text)
        assert (stocked.get("/v1/lots/1").body["note"] == "new") is (status == 200)
