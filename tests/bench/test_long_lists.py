"""Lists longer than one page of the API are shown to their end."""

from __future__ import annotations

import pytest

from sparewell.bench import asking
from support.api import Api
from support.bench import Bench


def test_a_list_of_several_pages_is_read_to_its_end(
    bench: Bench, api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Five open jobs, read two at a time, are all there: the next page's address is followed."""
    monkeypatch.setattr(asking, "PAGE_ROWS", 2)
    numbers = [api.job() for _ in range(5)]
    page = bench.get("/jobs")
    assert page.status == 200
    assert [number in page.html for number in numbers] == [True] * 5
