"""Finding by size on the bench page, nearest first, and the size ruler."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest

from conftest import Clock
from sparewell.bench import size_ruler
from support.api import Api
from support.bench import Bench, Page


def sac(api: Api, outside: str, **more: Any) -> int:
    """A bag of ten sacs of an outside diameter."""
    return int(api.stock(measured={"outside_diameter": outside}, **more)["id"])


def found(page: Page) -> list[int]:
    """The bags that a page lists, in its order."""

    class Reader(HTMLParser):
        bags: list[int] = []  # noqa: RUF012 - one reader, one page

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            href = dict(attrs).get("href") or ""
            if tag == "a" and href.startswith("/bags/"):
                self.bags.append(int(href.removeprefix("/bags/")))

    reader = Reader()
    reader.bags = []
    reader.feed(page.html)
    return reader.bags


def find(bench: Bench, size: str, tolerance: str = "0.2 mm", **more: str) -> Page:
    """Fill in the form for sacs."""
    page = bench.send(bench.get("/find"), "/find", "Go on", kind="sac")
    return bench.send(page, "/find", "Find", size=size, tolerance=tolerance, **more)


def test_the_nearest_come_first_within_the_tolerance(bench: Bench, api: Api) -> None:
    """Each says how far it is off; what is outside is not shown; either end belongs to it."""
    far, near, just, edge = (sac(api, each) for each in ("6.3 mm", "6.1 mm", "6.0 mm", "5.8 mm"))
    page = find(bench, "6 mm")
    assert found(page) == [just, near, edge]
    assert far not in found(page)
    assert "just so" in page.text
    assert "0.1 mm larger" in page.text
    assert "0.2 mm smaller" in page.text
    assert page.form("/find")["size"] == "6 mm"


def test_a_size_is_typed_in_any_unit(bench: Bench, api: Api) -> None:
    """64ths of an inch, a comma and a plain number of millimetres find the same bag."""
    lot = sac(api, "15/64 in")
    for typed in ("15/64 in", "5,953125", "0.234375 in"):
        assert found(find(bench, typed, "0")) == [lot]


def test_pieces_of_donors_are_found_too(bench: Bench, api: Api) -> None:
    """A cap in a donor is found by its bore, and said to lie there."""
    cap = {"kind": "cap", "state": "present", "measured": {"inside_diameter": "11.2 mm"}}
    made = api.post("/v1/donors", {"called": "red", "components": [cap]}).body
    page = bench.get("/find?kind=cap")
    page = bench.send(page, "/find", "Find", dimension="inside_diameter", size="11.1 mm")
    assert found(page) == [made["components"][0]["lot"]]
    assert "DON-0001 Cap 1 free" in page.text
    assert "in a donor" in page.text


def test_what_is_promised_comes_after_what_is_free(bench: Bench, api: Api) -> None:
    """A bag of which nothing is free is shown last, and said so; a spent one not at all."""
    promised, free, spent = sac(api, "6.0"), sac(api, "6.1"), sac(api, "6.0")
    api.post(f"/v1/jobs/{api.job()}/reservations", {"lot": promised, "quantity": 10})
    api.post(f"/v1/lots/{spent}/discard", {"quantity": 10})
    page = find(bench, "6.0")
    assert found(page) == [free, promised]
    assert "none free · 10 promised" in page.text


@pytest.mark.parametrize("field", ["size", "tolerance"])
def test_what_is_no_length_is_told_at_its_field(bench: Bench, api: Api, field: str) -> None:
    """The other field keeps what was typed."""
    sac(api, "6.0")
    typed = {"size": "6.0", "tolerance": "0.3"} | {field: "a bit"}
    page = find(bench, **typed)
    assert page.status == 422
    assert list(page.faults) == [field]
    assert {name: page.form("/find")[name] for name in typed} == typed
    assert found(page) == []


def test_an_unknown_kind_is_asked_for_again(bench: Bench) -> None:
    """The kinds there are stand to choose from."""
    page = bench.get("/find?kind=wheel")
    assert page.status == 422
    assert page.faults["kind"] == "not known here"
    assert "sac" in page.form("/find").offered["kind"]


def test_the_ruler_says_what_is_free_and_what_was_used(
    bench: Bench, api: Api, clock: Clock, token_of: Callable[[str], str]
) -> None:
    """As a table: free against fitted and ruined, of the last months; thrown away is no use."""
    small, large = sac(api, "5.9"), sac(api, "6.4")
    job = api.job()
    for lot, quantity, verb in ((small, 3, "use"), (small, 1, "spoil"), (large, 2, "use")):
        body = {"lot": lot, "quantity": quantity, "override": "tried"}
        made = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"][0]
        assert api.post(f"/v1/reservations/{made['id']}/{verb}").status == 200
    api.post(f"/v1/lots/{large}/discard", {"quantity": 8})
    page = bench.get("/find?kind=sac")
    assert "5.9 mm 6 4" in page.text
    assert "6.4 mm 0 2" in page.text
    clock.now += timedelta(days=200)
    bench.sign_in(token_of("read"))
    later = bench.get("/find?kind=sac&months=6")
    assert "5.9 mm 6 0" in later.text
    assert "6.4 mm" not in later.text
    assert "6.4 mm 0 2" in bench.get("/find?kind=sac&months=12").text


def test_the_ruler_has_a_name_and_its_table_leads_on(bench: Bench, api: Api) -> None:
    """Who cannot see the drawing is told what it is, and finds each size in the table."""
    sac(api, "5.9")
    page = bench.get("/find?kind=sac")
    assert 'role="img" aria-labelledby="ruler-title"' in page.html
    assert "what is free against what was used" in page.html
    assert found(bench.get(page.links["5.9 mm"]))
    assert "There are none yet" in bench.get("/find?kind=cork").text


def test_the_ruler_is_to_scale() -> None:
    """Equal steps of size are equal steps of the drawing, and bars are as high as their numbers."""
    drawn = size_ruler.ruler({5.0: 10, 6.0: 5, 8.0: 1}, {6.0: 2}, (5.5, 6.5))
    assert drawn is not None
    five, six, eight = drawn.bars
    millimetre = six.x - five.x
    assert eight.x - six.x == pytest.approx(2 * millimetre, abs=0.02)
    assert five.free_height == pytest.approx(2 * six.free_height)
    assert six.used_height == pytest.approx(five.free_height / 5, abs=0.02)
    assert drawn.window == (
        pytest.approx(six.x - millimetre / 2, abs=0.02),
        pytest.approx(millimetre, abs=0.02),
    )
    ticks = {said: x for x, said in drawn.ticks}
    assert ticks["6"] == pytest.approx(six.x, abs=0.02)
    assert all(0 <= bar.x <= size_ruler.WIDTH for bar in drawn.bars)


def test_the_ruler_stands_any_sizes() -> None:
    """One size, sizes a hair apart, very many and very large ones are drawn within the edge."""
    for sizes in ([5.9], [5.9, 5.901], [0.05 * each for each in range(1, 200)], [2.0, 900.0]):
        drawn = size_ruler.ruler(dict.fromkeys(sizes, 3), {}, None)
        assert drawn is not None
        assert all(size_ruler.MARGIN <= bar.x <= size_ruler.WIDTH for bar in drawn.bars)
        assert 2 <= len(drawn.ticks) <= 12
        written = sorted(bar.x for bar in drawn.bars if bar.says_free)
        assert all(b - a >= 15 for a, b in pairwise(written))
    assert size_ruler.ruler({}, {}, None) is None
    assert size_ruler.ruler({5.9: 0}, {}, None) is None
