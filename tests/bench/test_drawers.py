"""Drawers on the bench page: what lies in each, making one, counting one on the phone."""

from __future__ import annotations

from support.api import Api
from support.bench import Bench, Page


def held(api: Api, lot: int, quantity: int) -> tuple[str, int]:
    """A job that has pieces of a bag promised, and the reservation."""
    job = api.job()
    body = {"lot": lot, "quantity": quantity}
    made = api.post(f"/v1/jobs/{job}/reservations", body)
    assert made.status == 201, made.text
    return job, made.body["reservations"][0]["id"]


def in_hand(api: Api, lot: int) -> int:
    """What the ledger says is in hand of a bag."""
    return int(api.get(f"/v1/lots/{lot}").body["in_hand"])


def count(bench: Bench, page: Page, **typed: object) -> Page:
    """Send the count that a page asks for."""
    return bench.send(page, "/drawers/A3/count", "Note the count", **typed)


def test_the_drawers_say_what_lies_in_each(bench: Bench, api: Api) -> None:
    """Each drawer says how many bags and pieces it holds, free and promised; spent bags are not."""
    lot = api.stock()["id"]
    spent = api.stock(quantity=2)["id"]
    api.post(f"/v1/lots/{spent}/discard", {"quantity": 2})
    held(api, lot, 3)
    api.post("/v1/drawers", {"code": "B1", "note": "springs"})
    page = bench.get("/drawers")
    assert page.status == 200
    assert "A3 what lies in it 1 bag · 7 free · 3 promised" in page.text
    assert "B1 springs empty" in page.text
    assert page.links["springs"] == "/drawers/B1"


def test_a_new_drawer_is_shown_at_once(bench: Bench) -> None:
    """Making a drawer leads to its own page; its code may hold what addresses escape."""
    page = bench.send(bench.get("/drawers"), "/drawers", "Make it", code="Ö 1;a", note="corks")
    assert (page.status, page.path) == (200, "/drawers/Ö 1;a")
    assert "Ö 1;a corks" in page.text


def test_a_refused_drawer_keeps_what_was_typed(bench: Bench, api: Api) -> None:
    """The reason stands at the code, and the note is still there."""
    page = bench.send(bench.get("/drawers"), "/drawers", "Make it", code="A/3", note="corks")
    assert page.status == 422
    assert "stands in addresses" in page.faults["code"]
    assert (page.form("/drawers")["code"], page.form("/drawers")["note"]) == ("A/3", "corks")
    api.post("/v1/drawers", {"code": "A3"})
    again = bench.send(page, "/drawers", "Make it", code="A3")
    assert again.status in {409, 422}
    assert again.faults["code"] == "taken; choose another code"
    assert again.form("/drawers")["note"] == "corks"


def test_many_drawers_come_a_page_at_a_time(bench: Bench, api: Api) -> None:
    """Whatever is on no page yet is one press away."""
    for number in range(65):
        api.post("/v1/drawers", {"code": f"D{number}"})
    first = bench.get("/drawers")
    assert "/drawers/D59" in first.links.values() or "D59" in first.text
    assert "D60" not in first.text
    assert "D64" in bench.get(first.links["More drawers"]).text


def test_a_drawer_shows_its_bags_with_their_measure(bench: Bench, api: Api) -> None:
    """A bag says what is free, what it measures and on what basis, and until when it is good."""
    measured = api.stock(made_on="2025")["id"]
    catalogued = api.stock(measured={}, made_on="2010")["id"]
    page = bench.get("/drawers/A3")
    assert "SAC-15-STR 10 free outside diameter 5.9 mm, measured · fit by 1 Jan 2030" in page.text
    assert "outside diameter 5.953 mm, as catalogued · over age since 1 Jan 2015" in page.text
    assert f"/bags/{catalogued}" in page.links.values()
    assert measured != catalogued
    assert page.links["Count it"] == "/drawers/A3/count"


def test_no_such_drawer_is_said(bench: Bench) -> None:
    """A drawer that is not there is a page that says so."""
    page = bench.get("/drawers/Z9")
    assert page.status == 404
    assert "Z9" in page.text


def test_a_count_as_expected_needs_no_reason(bench: Bench, api: Api) -> None:
    """The sheet says what is expected and what lies in trays; what is left empty is not counted."""
    lot, other = api.stock()["id"], api.stock()["id"]
    job, reservation = held(api, lot, 4)
    api.post(f"/v1/reservations/{reservation}/fetch", {"quantity": 3})
    page = bench.get("/drawers/A3/count")
    assert f"expected 10, 3 of them in trays; 4 promised to {job}" in page.text
    done = count(bench, page, **{f"bag-{lot}": "10"})
    assert (done.path, "Counted." in done.text) == ("/drawers/A3", True)
    (line,) = api.get("/v1/movements?verb=counted").body["movements"]
    assert (line["lot"], line["change"]) == (lot, 0)
    assert in_hand(api, other) == 10


def test_a_difference_asks_for_its_reason_and_keeps_the_count(bench: Bench, api: Api) -> None:
    """Nothing is noted until a word is said of the difference; that word stands in the ledger."""
    lot = api.stock()["id"]
    page = count(bench, bench.get("/drawers/A3/count"), **{f"bag-{lot}": "8"})
    assert page.status == 422
    assert "(-2)" in page.faults["reason"]
    assert page.form("/drawers/A3/count")[f"bag-{lot}"] == "8"
    assert in_hand(api, lot) == 10
    count(bench, page, reason="two fell behind the bench")
    assert in_hand(api, lot) == 8
    (line,) = api.get("/v1/movements?verb=counted").body["movements"]
    assert (line["note"], line["person"]) == ("two fell behind the bench", "Odra")


def test_a_count_that_is_no_number_is_refused_at_its_bag(bench: Bench, api: Api) -> None:
    """Of two bags the one with the fault is told, and both counts are kept."""
    lot, other = api.stock()["id"], api.stock()["id"]
    typed = {f"bag-{lot}": "10", f"bag-{other}": "a few"}
    page = count(bench, bench.get("/drawers/A3/count"), **typed)
    assert page.status == 422
    assert list(page.faults) == [f"bag-{other}"]
    assert "whole number" in page.faults[f"bag-{other}"]
    form = page.form("/drawers/A3/count")
    assert (form[f"bag-{lot}"], form[f"bag-{other}"]) == ("10", "a few")


def test_less_than_is_promised_offers_to_give_up_by_job(bench: Bench, api: Api) -> None:
    """The jobs in the way are named; those that are ticked are given up, and then it counts."""
    lot = api.stock()["id"]
    first, one = held(api, lot, 4)
    second, two = held(api, lot, 3)
    typed = {f"bag-{lot}": "5", "reason": "mice"}
    page = count(bench, bench.get("/drawers/A3/count"), **typed)
    assert page.status == 409
    assert f"what {first} has" in page.text
    assert f"what {second} has" in page.text
    form = page.form("/drawers/A3/count")
    assert form.offered["release"] == [str(one), str(two)]
    assert (form[f"bag-{lot}"], form["reason"]) == ("5", "mice")
    assert page.faults == {f"bag-{lot}": "more of it is promised than this leaves"}
    assert in_hand(api, lot) == 10
    done = count(bench, page, release=[str(two)])
    assert "Counted." in done.text
    assert (in_hand(api, lot), api.get(f"/v1/lots/{lot}").body["promised"]) == (5, 4)
    assert api.get(f"/v1/reservations/{two}").body["state"] == "released"


def test_pieces_that_went_while_counting_are_not_counted_back(bench: Bench, api: Api) -> None:
    """Somebody threw two away after the page was opened: that bag is to be counted again."""
    lot = api.stock()["id"]
    page = bench.get("/drawers/A3/count")
    api.post(f"/v1/lots/{lot}/discard", {"quantity": 2})
    late = count(bench, page, **{f"bag-{lot}": "10"})
    assert late.status == 422
    assert "10 were expected when you began, and 8 are now" in late.faults[f"bag-{lot}"]
    assert late.form("/drawers/A3/count")[f"bag-{lot}"] == "10"
    assert in_hand(api, lot) == 8
    assert "Counted." in count(bench, late, **{f"bag-{lot}": "8"}).text


def test_a_bag_that_was_moved_while_counting_is_said(bench: Bench, api: Api) -> None:
    """A bag that lies elsewhere by now is named with where, and nothing is counted."""
    lot, other = api.stock()["id"], api.stock()["id"]
    page = bench.get("/drawers/A3/count")
    api.post("/v1/drawers", {"code": "B1"})
    api.post(f"/v1/lots/{lot}/move", {"drawer": "B1"})
    typed = {f"bag-{lot}": "10", f"bag-{other}": "10"}
    late = count(bench, page, **typed)
    assert late.status == 409
    assert any(f"bag {lot} lies in B1" in each for each in late.problems)
    assert late.form("/drawers/A3/count")[f"bag-{other}"] == "10"


def test_a_form_pressed_twice_counts_once(bench: Bench, api: Api) -> None:
    """The second press of the very same form changes nothing."""
    lot = api.stock()["id"]
    page = bench.get("/drawers/A3/count")
    key = page.form("/drawers/A3/count")["form_key"]
    typed = {f"bag-{lot}": "10", f"expected-{lot}": "10", "reason": "", "form_key": key}
    assert "Counted." in bench.post("/drawers/A3/count", typed).text
    assert "Counted." in bench.post("/drawers/A3/count", typed).text
    assert len(api.get("/v1/movements?verb=counted").body["movements"]) == 1


def test_a_form_of_another_session_is_asked_for_once_more(bench: Bench, api: Api) -> None:
    """A forged form does nothing; what it holds is shown, to be sent by whoever sits here."""
    for forged in ("", "0" * 64):
        page = bench.post("/drawers", code="B7", note="springs", form_token=forged)
        assert page.status == 401
        assert "has not been sent yet" in page.text
        assert api.get("/v1/drawers/B7").status == 404
        assert page.form("/drawers")["code"] == "B7"
    done = bench.send(page, "/drawers", "Send it")
    assert (done.path, done.status) == ("/drawers/B7", 200)


def test_whoever_only_reads_is_told_so(bench: Bench, api: Api, token_of: object) -> None:
    """A token of the scope read sees the drawers, and is refused a new one."""
    assert callable(token_of)
    reader = Bench(api.app, token_of("read"))
    assert reader.get("/drawers").status == 200
    page = reader.send(reader.get("/drawers"), "/drawers", "Make it", code="B7")
    assert page.status == 403
    assert page.form("/drawers")["code"] == "B7"
    assert bench.get("/drawers/B7").status == 404


def test_a_drawer_of_very_many_bags_is_counted_in_one_go(bench: Bench, api: Api) -> None:
    """A form of hundreds of fields arrives whole."""
    lots = [api.stock(quantity=2)["id"] for _ in range(130)]
    typed = {f"bag-{lot}": "2" for lot in lots}
    assert "Counted." in count(bench, bench.get("/drawers/A3/count"), **typed).text
    assert len(api.get("/v1/movements?verb=counted&limit=500").body["movements"]) == 130
