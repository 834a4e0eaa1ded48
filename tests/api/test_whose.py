"""Which donor still has a clip for a cap of 12.6 mm: one request, as it is asked at the bench."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api

# Caps of three donors, and of each the clip that hangs on it, lies beside it, or is not there.
CAP = {"kind": "cap", "state": "present", "attributes": {"thread_starts": 3}}
ASKED = "/v1/lots?kind=clip&whose=cap&outside_diameter_min=12.5&outside_diameter_max=12.7"


def donor(api: Api, cap: str, *others: dict[str, Any]) -> list[int | None]:
    """Keep a donor with a cap of this width, and what else it has; return the lots."""
    measured = {"measured": {"outside_diameter": cap}}
    body = {"called": "wreck", "components": [CAP | measured, *others]}
    reply = api.post("/v1/donors", body)
    assert reply.status == 201, reply.text
    return [each["lot"] for each in reply.body["components"]]


def found(api: Api, query: str) -> list[int]:
    """Return the ids of the lots that a query lists."""
    reply = api.get(query)
    assert reply.status == 200, reply.text
    return [lot["id"] for lot in reply.body["lots"]]


def test_clips_are_found_by_their_caps(api: Api) -> None:
    """Nested, loose and unseen clips of fitting caps are listed, and those of others are not."""
    on_it = {"kind": "clip", "state": "present", "part_of": 0, "colour_note": "brassed at the ball"}
    _, nested = donor(api, "12.6 mm", on_it)
    _, loose = donor(api, "0.495 in", {"kind": "clip", "state": "present"})
    _, unseen = donor(api, "12.6", {"kind": "clip", "part_of": 0})
    donor(api, "13.4 mm", on_it)
    donor(api, "12.6 mm", {"kind": "clip", "state": "missing", "part_of": 0})
    lots = api.get(f"{ASKED}&available_min=1").body["lots"]
    assert [lot["id"] for lot in lots] == [nested, loose, unseen]
    assert lots[0]["attributes"] == {"colour_note": "brassed at the ball"}
    assert [lot["donor"] for lot in lots] == ["DON-0001", "DON-0002", "DON-0003"]
    assert [any("go and look" in each for each in lot["warnings"]) for lot in lots] == [
        False,
        False,
        True,
    ]
    assert found(api, f"{ASKED}&attributes=thread_starts:3&donor=DON-0002") == [loose]
    assert found(api, f"{ASKED}&attributes=thread_starts:2") == []


def test_a_clip_that_was_taken_out_is_still_its_cap_s(api: Api) -> None:
    """In a drawer, or with the cap gone, a clip is found by it; a promised one is not free."""
    cap, clip = donor(api, "12.6 mm", {"kind": "clip", "state": "present", "part_of": 0})
    api.post("/v1/drawers", {"code": "A3"})
    strip = {"lots": [clip], "drawer": "A3"}
    assert api.post("/v1/donors/DON-0001/strip", strip).status == 200
    assert api.post(f"/v1/lots/{cap}/discard", {"quantity": 1}).status == 200
    free = f"{ASKED}&available_min=1"
    assert found(api, free) == [clip]
    assert api.post(f"/v1/jobs/{api.job()}/reservations", {"lot": clip}).status == 201
    assert (found(api, free), found(api, ASKED)) == ([], [clip])


def test_nibs_are_found_by_grade_and_by_their_section(api: Api) -> None:
    """A grade narrows by the nib itself; by the section's tenon it is the donor that decides."""
    section = {"kind": "section", "state": "present", "measured": {"outside_diameter": "8.4 mm"}}
    nib = {"kind": "nib", "state": "present", "part_of": 1}
    stub = donor(api, "12 mm", section, nib | {"attributes": {"grade": "stub"}})[2]
    broad = donor(api, "12 mm", section, nib | {"attributes": {"grade": "B"}})[2]
    assert found(api, "/v1/lots?kind=nib&attributes=grade:stub") == [stub]
    of_section = "/v1/lots?kind=nib&whose=section&outside_diameter_min=8.3"
    assert found(api, of_section) == [stub, broad]
    assert found(api, "/v1/lots?whose=barrel") == []


def test_an_unseen_clip_never_completes_a_plan(api: Api) -> None:
    """It is shown with what to do first, and a person has to name it."""
    unseen = donor(api, "12.6", {"kind": "clip", "part_of": 0})[1]
    job = api.job()
    api.stock()
    body = {"kind": "clip", "seals_where": "none: on the cap"}
    clip = api.post(f"/v1/jobs/{job}/needs", body).body["id"]
    plan = api.get(f"/v1/jobs/{job}/plan").body
    (need,) = [each for each in plan["needs"] if each["id"] == clip]
    assert (plan["complete"], need["short"]) == (False, 1)
    (shown,) = need["substitutes"]
    assert (shown["lot"], "go and look" in shown["why"]) == (unseen, True)
    assert api.post(f"/v1/jobs/{job}/reservations").status == 409
    named = {"lot": unseen, "need": clip}
    assert api.post(f"/v1/jobs/{job}/reservations", named).status == 201


@pytest.mark.parametrize("value", ["", "x" * 41])
def test_whose_is_the_name_of_a_kind(api: Api, value: str) -> None:
    """An empty or endless name is refused where it stands."""
    refused = api.get(f"/v1/lots?whose={value}")
    assert (refused.status, refused.body["errors"][0]["parameter"]) == (422, "whose")
