"""What is to be ordered: promises and age netted, what jobs lack included, what ages capped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from types import MappingProxyType
from typing import Any

import pytest
from sqlalchemy import event

from conftest import Clock
from sparewell.app.factory import create_app
from sparewell.database.engine import Database
from sparewell.extend.host import Declarations
from sparewell.extend.reordering import Decision, ReorderPolicy
from support.api import Api
from support.statements import counted
from support.supply import PART, due, lot, made, offer, part, sent_order, supplier, used


def keep(api: Api, pieces: int, number: str = PART, **more: Any) -> None:
    """Keep at least so many of a part."""
    body = {"policy": "keep_at_least", "parameters": {"pieces": pieces} | more, "why": "to try"}
    made(api.patch(f"/v1/parts/{number}/threshold", body))


def test_a_part_below_its_threshold_is_due(api: Api) -> None:
    """Ten free and twelve to keep: two are to be ordered, and the sentence has the numbers."""
    api.stock()
    keep(api, 12)
    line = due(api)[PART]
    assert (line["available"], line["promised"], line["over_age"], line["on_order"]) == (
        10,
        0,
        0,
        0,
    )
    assert (line["reorder_point"], line["order_up_to"], line["order_quantity"]) == (11, 12, 2)
    assert line["policy"] == "keep_at_least"
    assert "keep at least 12" in line["why"]
    assert "10 is not above 11, so up to 12" in line["why"]


def test_a_part_above_its_threshold_is_not_due(api: Api) -> None:
    """Ten free and ten to keep: not listed, except where all are asked for."""
    api.stock()
    keep(api, 10)
    assert due(api) == {}
    line = due(api, "?all=true")[PART]
    assert (line["order_quantity"], line["available"]) == (0, 10)
    assert "nothing is due" in line["why"]


def test_a_part_that_was_used_goes_by_the_workshops_policy(api: Api) -> None:
    """A part with a history of use needs no threshold; one that only lies there is not listed."""
    lying = part(api, "LYING")
    lot(api, lying, 1)
    used(api, api.stock(9)["id"], 9)
    lines = due(api, "?all=true")
    assert list(lines) == [PART]
    assert (lines[PART]["policy"], lines[PART]["order_quantity"]) == ("keep_at_least", 2)


def test_use_counts_once_a_whole_period_has_passed(api: Api, clock: Clock) -> None:
    """Fitted and spoiled pieces stand in the history by period; what was undone does not."""
    stock = api.stock(20)["id"]
    clock.now += timedelta(days=5)
    used(api, stock, 3)
    clock.now += timedelta(days=30)
    used(api, stock, 2)
    job = api.job()
    held = made(api.post(f"/v1/jobs/{job}/reservations", {"lot": stock, "quantity": 1}))
    made(api.post(f"/v1/reservations/{held['reservations'][0]['id']}/spoil", {"note": "torn"}))
    made(api.post(f"/v1/jobs/{job}/cancel"))
    clock.now += timedelta(days=25)
    line = due(api, "?all=true")[PART]
    assert line["history"] == [3, 3]
    setting = {"value": "fitted", "why": "torn ones are rare"}
    made(api.patch("/v1/settings/supply.counts_as_use", setting))
    assert due(api, "?all=true")[PART]["history"] == [3, 2]
    made(api.patch("/v1/settings/supply.period_days", {"value": 60, "why": "slow shop"}))
    assert due(api, "?all=true")[PART]["history"] == [5]


def test_an_undone_use_is_no_use(api: Api, clock: Clock) -> None:
    """Pieces discarded by mistake, where that counts as use, are not counted once undone."""
    setting = {"value": "fitted, spoiled and discarded", "why": "all of it is bought again"}
    made(api.patch("/v1/settings/supply.counts_as_use", setting))
    stock = api.stock(10)["id"]
    clock.now += timedelta(days=1)
    made(api.post(f"/v1/lots/{stock}/discard", {"quantity": 4}))
    clock.now += timedelta(days=29)
    assert due(api, "?all=true")[PART]["history"] == [4]
    (line,) = api.get("/v1/movements?verb=discarded").body["movements"]
    made(api.post(f"/v1/movements/{line['group']}/undo"))
    assert due(api, "?all=true") == {}


def test_promises_are_netted(api: Api) -> None:
    """What a job holds is not free: with seven of ten promised, twelve to keep want nine more."""
    stock = api.stock()["id"]
    keep(api, 12)
    job = api.job()
    made(api.post(f"/v1/jobs/{job}/reservations", {"lot": stock, "quantity": 7}))
    line = due(api)[PART]
    assert (line["available"], line["promised"], line["order_quantity"]) == (3, 7, 9)


def test_age_is_netted_on_the_day_of_use(api: Api) -> None:
    """Latex that keeps until tomorrow is in date today, and not when the next order has come."""
    api.stock(10, made_on="2021-11-26")
    keep(api, 5)
    line = due(api)[PART]
    assert (line["available"], line["over_age"], line["order_quantity"]) == (0, 10, 5)
    assert "10 over age by then" in line["why"]
    for name, days in (("lead_days", 0), ("review_days", 0)):
        made(api.patch(f"/v1/settings/supply.{name}", {"value": days, "why": "next door"}))
    assert due(api, "?all=true")[PART]["over_age"] == 0


def test_a_bag_without_a_making_date_ages_from_its_arrival(api: Api, clock: Clock) -> None:
    """Latex of which nobody knows when it was made is over age years after it came."""
    api.stock()
    api.patch(
        f"/v1/parts/{PART}/threshold",
        {"policy": "keep_at_least", "parameters": {"pieces": 5}, "why": "often wanted"},
    )
    assert due(api, "?all=true")[PART]["over_age"] == 0
    clock.now += timedelta(days=12 * 366)
    line = due(api, "?all=true")[PART]
    assert (line["available"], line["over_age"]) == (0, 10)


def test_the_lead_time_is_the_cheapest_suppliers(api: Api) -> None:
    """The supplier whose piece costs least is named, and its lead days hold."""
    api.stock(1)
    keep(api, 5)
    assert (due(api)[PART]["lead_days"], due(api)[PART]["supplier"]) == (21, None)
    dear, cheap = supplier(api, "dear", lead_days=3), supplier(api, "cheap", lead_days=40)
    offer(api, dear, pack_pieces=1)
    offer(api, cheap, pack_pieces=10)
    line = due(api)[PART]
    assert (line["lead_days"], line["supplier"]) == (40, cheap)
    assert line["order_quantity"] == 10
    assert "in whole packs 10" in line["why"]
    made(api.patch(f"/v1/suppliers/{cheap}", {"lead_spread_days": 5}))
    assert due(api)[PART]["lead_days"] == 45
    made(api.patch(f"/v1/suppliers/{cheap}", {"retired": True}))
    assert due(api)[PART]["supplier"] == dear


def test_what_is_on_order_counts(api: Api) -> None:
    """With twenty on their way, ten free and twenty-five to keep, nothing is due."""
    api.stock()
    keep(api, 25)
    assert due(api)[PART]["order_quantity"] == 15
    sent_order(api, offer(api, supplier(api)))
    line = due(api, "?all=true")[PART]
    assert (line["on_order"], line["order_quantity"]) == (20, 0)


def test_what_open_jobs_lack_is_due(api: Api) -> None:
    """Two open jobs and one sac: one is short, whatever the policy says, and the jobs are named."""
    api.stock(1)
    jobs = [api.job(), api.job()]
    line = due(api)[PART]
    assert (line["wanted_by_jobs"], line["short"], line["jobs"]) == (2, 1, jobs)
    assert line["order_quantity"] >= 1
    made(api.post(f"/v1/jobs/{jobs[0]}/cancel"))
    made(api.post(f"/v1/jobs/{jobs[1]}/reservations"))
    assert due(api, "?all=true") == {}


def test_what_is_on_its_way_to_a_job_is_not_ordered_again(api: Api) -> None:
    """A job that lacks one piece wants none once enough are on order."""
    api.stock(1)
    made(api.post("/v1/lots/1/discard", {"quantity": 1}))
    api.job()
    assert due(api)[PART]["short"] == 1
    sent_order(api, offer(api, supplier(api)))
    line = due(api, "?all=true")[PART]
    assert (line["short"], line["order_quantity"]) == (1, 0)


def test_a_job_that_no_part_fits_says_what_to_ask_for(api: Api) -> None:
    """A need that the catalogue has no part for is listed beside, with what to ask a seller for."""
    job = api.job()
    found = made(api.get("/v1/reorder"))
    (need,) = found["unmatched"]
    assert (need["job"], need["kind"], need["short"]) == (job, "sac", 1)
    assert need["ask_for"]
    assert found["lines"] == []


def test_what_ages_is_capped_at_what_will_be_used(api: Api, clock: Clock) -> None:
    """Twelve a year for two and a half years are 30: a threshold of 200 of latex orders no more."""
    stock = api.stock(10)["id"]
    clock.now += timedelta(days=1)
    used(api, stock, 2)
    clock.now += timedelta(days=59)
    keep(api, 200, up_to=200)
    line = due(api)[PART]
    assert line["history"] == [2, 0]
    # 1/30 a day x 365.25 x 2.5 = 30.4, so 31; 8 of them lie there.
    assert (line["capped_at"], line["order_quantity"]) == (31, 23)
    assert "no more than the 31" in line["why"]
    made(api.patch("/v1/settings/supply.most_years_of_ageing_stock", {"value": 2, "why": "x"}))
    assert due(api)[PART]["capped_at"] == 25
    offer(api, supplier(api), pack_pieces=20)
    assert due(api)[PART]["order_quantity"] == 20


def test_what_does_not_age_is_not_capped(api: Api, clock: Clock) -> None:
    """Silicone with the same use is ordered up to its threshold."""
    silicone = part(api, "SIL-15", material="silicone")
    stock = lot(api, silicone, 10)
    clock.now += timedelta(days=1)
    used(api, stock, 2)
    clock.now += timedelta(days=59)
    keep(api, 200, silicone, up_to=200)
    line = due(api)[silicone]
    assert (line["capped_at"], line["order_quantity"]) == (None, 192)


def test_latex_that_nobody_used_for_a_year_is_not_ordered(api: Api, clock: Clock) -> None:
    """Known for over a year and never used: nothing is due, except for what a job lacks."""
    api.stock(1)
    keep(api, 5)
    assert due(api)[PART]["order_quantity"] == 4
    clock.now += timedelta(days=400)
    line = due(api, "?all=true")[PART]
    assert (line["capped_at"], line["order_quantity"]) == (0, 0)
    for _ in range(3):
        api.job()
    assert due(api)[PART]["order_quantity"] == 2


def test_the_list_comes_by_the_page(api: Api) -> None:
    """The list is cut at its limit and goes on where it was cut."""
    for number in ("ONE", "TWO", "THREE"):
        keep(api, 2, part(api, number))
    first = made(api.get("/v1/reorder?limit=2"))
    assert [line["part"] for line in first["lines"]] == ["ONE", "TWO"]
    rest = made(api.get(first["next"]))
    assert ([line["part"] for line in rest["lines"]], rest["next"]) == (["THREE"], None)
    assert api.get("/v1/reorder?all=perhaps").status == 422


def test_the_number_of_statements_does_not_grow(api: Api, database: Database) -> None:
    """Twenty parts with thresholds and offers take as many statements as two."""
    sold_by = supplier(api)
    counts = []
    seen: list[str] = []
    event.listen(database.engine, "before_cursor_execute", lambda *told: seen.append(told[2]))
    for until in (2, 20):
        for number in range(len(counts) * 2, until):
            keep(api, 2, part(api, f"P{number}"))
            offer(api, sold_by, f"P{number}")
        seen.clear()
        assert len(due(api)) == until
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_jobs_that_lack_pieces_are_looked_up_together(api: Api, database: Database) -> None:
    """Twenty pens of as many bores that nothing in hand fits take as many statements as two."""
    api.stock(quantity=1)
    counts = []
    for pens in (2, 18):
        for _ in range(pens):
            api.job(barrel_bore=f"{8 + len(api.get('/v1/jobs').body['jobs']) / 50} mm")
        with counted(database) as sent:
            found = made(api.get("/v1/reorder"))
        assert found["unmatched"] or found["lines"]
        counts.append(len(sent))
    assert counts[0] == counts[1]


def test_a_policy_that_fails_answers_for_itself_alone(
    database: Database, declared: Declarations, clock: Clock, token_of: Callable[[str], str]
) -> None:
    """A part whose policy raises says so in its line, and every other line stands."""
    broken = replace(declared.reorder_policies["keep_at_least"], name="broken", decide=_fail)
    unfit = replace(broken, name="unfit", decide=lambda *_: Decision(3, 3, "no"))
    policies: dict[str, ReorderPolicy] = {
        **declared.reorder_policies,
        "broken": broken,
        "unfit": unfit,
    }
    provider = {**declared.provider, **{f"reorder_policies/{each}": "x" for each in policies}}
    changed = replace(
        declared, reorder_policies=MappingProxyType(policies), provider=MappingProxyType(provider)
    )
    api = Api(create_app(database, changed, clock=clock), token_of("admin"))
    api.stock()
    keep(api, 12)
    path = f"/v1/parts/{part(api, 'OTHER')}/threshold"
    for name in ("broken", "unfit"):
        reply = api.patch(path, {"policy": name, "parameters": {}, "why": "x"})
        assert reply.status == 502, reply.text
    made(api.patch("/v1/settings/supply.default_policy", {"value": "broken", "why": "x"}))
    used(api, lot(api, "OTHER", 1), 1)
    lines = due(api, "?all=true")
    assert lines[PART]["order_quantity"] == 2
    assert (lines["OTHER"]["reorder_point"], lines["OTHER"]["order_quantity"]) == (None, 0)
    assert "failed in the policy 'broken'" in lines["OTHER"]["why"]


def test_a_part_that_nobody_could_judge_is_named(
    database: Database, declared: Declarations, clock: Clock, token_of: Callable[[str], str]
) -> None:
    """Where the policy's plugin is skipped, "nothing is due" is not said: the note counts parts."""
    changed = replace(declared, reorder_policies=MappingProxyType({}))
    api = Api(create_app(database, changed, clock=clock), token_of("admin"))
    used(api, api.stock()["id"], 1)
    found = api.get("/v1/reorder").body
    assert (found["lines"], found["not_judged"]) == ([], 1)
    (note,) = found["notes"]
    assert PART in note
    assert "is not loaded" in note


def _fail(*_: object) -> Decision:
    raise ZeroDivisionError


@pytest.mark.parametrize("days", [0, 366])
def test_the_settings_keep_to_their_bounds(api: Api, days: int) -> None:
    """A period is from one day to a year long; no other is taken."""
    body = {"value": days, "why": "x"}
    status = api.patch("/v1/settings/supply.period_days", body).status
    assert status == (200 if days else 422)
