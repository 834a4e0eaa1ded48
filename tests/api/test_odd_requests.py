"""Requests that are odd but possible: lists of tags, addresses that nothing can split."""

from __future__ import annotations

import pytest
from flask import Flask

from support.api import Api


@pytest.mark.parametrize("others", ['"x", {}', '{}, "x"', '"x",{},"y"', ' "x" , {} '])
def test_a_list_of_tags_with_the_right_one_is_enough(api: Api, others: str) -> None:
    """If-Match takes a list (RFC 9110 section 13.1.1); one of them has to be the present one."""
    api.post("/v1/drawers", {"code": "A3"})
    tag = api.get("/v1/drawers/A3").headers["ETag"]
    wrong = api.patch("/v1/drawers/A3", {"note": "n"}, If_Match='"x", "y"')
    right = api.patch("/v1/drawers/A3", {"note": "n"}, If_Match=others.format(tag))
    assert (wrong.status, right.status) == (412, 200)


@pytest.mark.parametrize("to", ["//[", "/x%0d%0aX:1", "http://[::1", "/%00"])
def test_an_address_that_is_none_is_a_bad_request(app: Flask, to: str) -> None:
    """Where to go on after signing in has to be an address; anything else is 400."""
    assert app.test_client().get(f"/sign-in?to={to}").status_code == 400
    form = "application/x-www-form-urlencoded"
    sent = app.test_client().post("/sign-in", data=f"token=x&to={to}", content_type=form)
    assert sent.status_code == 400


def test_a_referer_that_is_none_harms_nothing(app: Flask) -> None:
    """A page that is missing is 404 whatever the browser says that it came from."""
    answer = app.test_client().get(
        "/nothing", headers={"Referer": "http://[", "Accept": "text/html"}
    )
    assert answer.status_code in {400, 404}
