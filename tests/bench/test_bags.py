"""One bag on the bench page: what it is, what happened to it, and what is done with it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from conftest import Clock
from support.api import Api
from support.bench import Bench, Page


def act(
    bench: Bench, lot: int, verb: str, button: str, page: Page | None = None, **typed: object
) -> Page:
    """Do one thing with a bag, as its form has it."""
    page = page or bench.get(f"/bags/{lot}")
    sent = {f"{verb}-{name}" if name != "release" else name: value for name, value in typed.items()}
    return bench.send(page, f"/bags/{lot}/{verb}", button, **sent)


def promise(api: Api, lot: int, quantity: int = 1) -> tuple[str, int]:
    """A job that has pieces of a bag promised, and the reservation."""
    job = api.job()
    body = {"lot": lot, "quantity": quantity}
    reply = api.post(f"/v1/jobs/{job}/reservations", body)
    return job, reply.body["reservations"][0]["id"]


def test_a_bag_says_what_it_is(bench: Bench, api: Api) -> None:
    """Figures first; each dimension with its basis and as it was typed; age, cost and place."""
    measured = {"outside_diameter": "15/64 in", "inside_diameter": "5.05 mm"}
    lot = api.stock(measured=measured, made_on="2026-Q1", cost="8.50", label="no. 15")["id"]
    page = bench.get(f"/bags/{lot}")
    assert page.status == 200
    assert page.text.index("10 free") < page.text.index("Its packet says")
    assert "Outside diameter 5.953 mm measured, typed as 15/64 in" in page.text
    assert "Inside diameter 5.05 mm measured" in page.text
    assert "75 mm as catalogued or by its packet, not measured on this bag" in page.text
    assert "Made on 2026-Q1" in page.text
    assert "Fit by 1 Jan 2031 counted from its making" in page.text
    assert "Cost 8.50" in page.text
    assert page.links["To the drawer"] == "/drawers/A3"


def test_a_bag_says_whom_it_is_promised_to(bench: Bench, api: Api) -> None:
    """Each job that has pieces of it is named and linked, with what lies in its tray."""
    lot = api.stock()["id"]
    job, reservation = promise(api, lot, 2)
    api.post(f"/v1/reservations/{reservation}/fetch", {"quantity": 1})
    page = bench.get(f"/bags/{lot}")
    assert f"{job} : 2, 1 in the tray" in page.text
    assert page.links[job] == f"/jobs/{job}"
    assert "8 free" in page.text
    assert "2 promised" in page.text


def test_the_ledger_reads_in_plain_words_newest_first(bench: Bench, api: Api) -> None:
    """Coming in, fitting for a job, throwing away: who, what for and how many."""
    lot = api.stock()["id"]
    job, reservation = promise(api, lot)
    api.post(f"/v1/reservations/{reservation}/use")
    api.post(f"/v1/lots/{lot}/discard", {"quantity": 2, "note": "split"})
    text = bench.get(f"/bags/{lot}").text
    told = [text.index(each) for each in ("-2 thrown away", f"-1 fitted for {job}", "+10 came in")]
    assert told == sorted(told)
    assert "split" in text


def test_undo_stands_only_where_it_can_be(bench: Bench, api: Api) -> None:
    """What was thrown away can be undone once; what was fitted cannot from here."""
    lot = api.stock()["id"]
    _, reservation = promise(api, lot)
    api.post(f"/v1/reservations/{reservation}/use")
    api.post(f"/v1/lots/{lot}/discard", {"quantity": 2})
    undo = f"/bags/{lot}/undo"
    page = bench.get(f"/bags/{lot}")
    buttons = [button[0] for form in page.forms if form.action == undo for button in form.buttons]
    assert buttons == ["Undo: -2 thrown away", "Undo: +10 came in"]
    done = bench.send(page, undo, "Undo: -2 thrown away")
    assert "Undone." in done.text
    assert "9 free" in done.text
    assert "-2 thrown away (undone since)" in done.text
    late = bench.send(page, undo, "Undo: +10 came in")
    assert late.status == 409
    assert any(f"bag {lot}" in each for each in late.problems)


def test_some_pieces_move_and_the_page_follows_them(bench: Bench, api: Api) -> None:
    """Four of ten become a bag of their own in the other drawer."""
    lot = api.stock()["id"]
    api.post("/v1/drawers", {"code": "B1"})
    page = act(bench, lot, "move", "Move", drawer="B1", quantity="4", note="for the other bench")
    assert "Moved." in page.text
    assert page.path != f"/bags/{lot}"
    assert "B1 SAC-15-STR 4 free" in page.text
    assert "for the other bench" in page.text
    assert "6 free" in bench.get(f"/bags/{lot}").text


def test_a_refused_move_keeps_what_was_typed(bench: Bench, api: Api) -> None:
    """The form stands open with its words; the drawer and the quantity are told at their fields."""
    lot = api.stock()["id"]
    api.post("/v1/drawers", {"code": "B1"})
    page = act(bench, lot, "move", "Move", drawer="B1", quantity="dozen", note="a try")
    assert page.status == 422
    assert "whole number" in page.faults["move-quantity"]
    form = page.form(f"/bags/{lot}/move")
    assert (form["move-drawer"], form["move-quantity"], form["move-note"]) == (
        "B1",
        "dozen",
        "a try",
    )
    nowhere = act(bench, lot, "move", "Move", quantity="4")
    assert nowhere.faults["move-drawer"] == "required"


def test_throwing_away_more_than_is_free_names_the_job(bench: Bench, api: Api) -> None:
    """The job in the way is offered to be given up, and with it the pieces go."""
    lot = api.stock()["id"]
    job, reservation = promise(api, lot, 4)
    page = act(bench, lot, "discard", "Throw away", quantity="8", note="perished")
    assert page.status == 409
    assert f"what {job} has" in page.text
    form = page.form(f"/bags/{lot}/discard")
    assert (form["discard-quantity"], form["discard-note"]) == ("8", "perished")
    done = act(bench, lot, "discard", "Throw away", page, release=str(reservation))
    assert "Thrown away, and noted." in done.text
    assert "2 free" in done.text


def test_a_bag_is_counted_alone(bench: Bench, api: Api) -> None:
    """The page says what the ledger has, and notes what was found."""
    lot = api.stock()["id"]
    page = act(bench, lot, "count", "Note the count", counted="12", note="two more in the packet")
    assert "Counted." in page.text
    assert "counted: +2" in page.text
    assert "12 free" in page.text


def test_cutting_makes_a_bag_and_an_offcut(bench: Bench, api: Api) -> None:
    """The cut pieces are shown; what is left over is a bag of the same drawer."""
    lot = api.stock()["id"]
    page = act(bench, lot, "cut", "Cut", length="60 mm", quantity="2")
    assert "Cut, and noted." in page.text
    assert "2 free" in page.text
    assert "Length (of a spring: its free length) 60 mm measured" in page.text
    assert "offcut" in bench.get("/drawers/A3").text
    too_long = act(bench, lot, "cut", "Cut", length="80 mm")
    assert too_long.status == 422
    assert "75 mm" in too_long.faults["cut-length"]
    assert too_long.form(f"/bags/{lot}/cut")["cut-length"] == "80 mm"


def test_cutting_is_offered_only_for_what_has_a_length(bench: Bench, api: Api) -> None:
    """An O-ring has none."""
    api.stock()
    api.post("/v1/parts", {"number": "OR-5", "kind": "o_ring"})
    lot = api.post("/v1/lots", {"part": "OR-5", "drawer": "A3", "quantity": 1}).body["id"]
    assert not [form for form in bench.get(f"/bags/{lot}").forms if form.action.endswith("/cut")]


def test_a_used_piece_comes_back(bench: Bench, api: Api) -> None:
    """Put back is offered once something was used, and makes a used bag; not twice."""
    lot = api.stock()["id"]
    assert "Put back" not in bench.get(f"/bags/{lot}").text
    job, reservation = promise(api, lot)
    api.post(f"/v1/reservations/{reservation}/use")
    before = bench.get(f"/bags/{lot}")
    page = act(bench, lot, "put-back", "Put back", condition="used", note="wrong size after all")
    assert "Back in stock, as a bag of its own." in page.text
    assert "Sac, used" in page.text
    assert f"+1 put back for {job}" in page.text
    twice = act(bench, lot, "put-back", "Put back", before, note="again")
    assert twice.status == 409
    assert twice.form(f"/bags/{lot}/put-back")["put-back-note"] == "again"


def test_a_bag_is_measured_and_corrected(bench: Bench, api: Api) -> None:
    """What is typed replaces the claim; what is emptied falls back to it."""
    lot = api.stock()["id"]
    says = f"/bags/{lot}/says"
    typed = {"measured/outside_diameter": "0.23 in", "measured/length": "74", "note": "sticky"}
    page = bench.send(bench.get(f"/bags/{lot}"), says, "Note it", **typed)
    assert "Changed." in page.text
    assert "Outside diameter 5.842 mm measured, typed as 0.23 in" in page.text
    assert "Note sticky" in page.text
    emptied = bench.send(page, says, "Note it", **{"measured/length": "", "note": ""})
    assert "75 mm as catalogued or by its packet, not measured on this bag" in emptied.text
    assert api.get(f"/v1/lots/{lot}").body["note"] == ""


@pytest.mark.parametrize(
    ("field", "typed"),
    [("measured/outside_diameter", "6 cubits"), ("made_on", "last year"), ("cost", "a lot")],
)
def test_a_wrong_measure_is_told_at_its_field(
    bench: Bench, api: Api, field: str, typed: str
) -> None:
    """The fault stands there, and everything typed is kept."""
    lot = api.stock()["id"]
    says = f"/bags/{lot}/says"
    sent = {field: typed, "note": "kept?"}
    page = bench.send(bench.get(f"/bags/{lot}"), says, "Note it", **sent)
    assert page.status == 422
    assert page.faults[field]
    assert (page.form(says)[field], page.form(says)["note"]) == (typed, "kept?")


def test_two_people_who_correct_one_bag_are_told(bench: Bench, api: Api) -> None:
    """The second of them sees that somebody was there, with what was typed still in the form."""
    lot = api.stock()["id"]
    says = f"/bags/{lot}/says"
    page = bench.get(f"/bags/{lot}")
    api.patch(f"/v1/lots/{lot}", {"label": "no. 15"})
    late = bench.send(page, says, "Note it", note="sticky")
    assert late.status == 412
    assert any("Somebody changed this meanwhile" in each for each in late.problems)
    assert late.form(says)["note"] == "sticky"
    assert "Its packet says no. 15" in late.text
    assert "Changed." in bench.send(late, says, "Note it").text
    assert api.get(f"/v1/lots/{lot}").body["note"] == "sticky"


def test_what_is_not_there_is_said(bench: Bench, api: Api) -> None:
    """No such bag, and nothing of that name to do with one."""
    assert bench.get("/bags/7").status == 404
    lot = api.stock()["id"]
    assert bench.post(f"/bags/{lot}/juggle").status == 404


def test_a_bag_is_not_over_age_on_its_last_day(
    bench: Bench, api: Api, clock: Clock, token_of: Callable[[str], str]
) -> None:
    """On the last day the pages say until when, as the API does; from the next on, over age."""
    lot = api.stock(made_on="2025-03-01")
    last = datetime.fromisoformat(lot["fit_by"]).replace(hour=12, tzinfo=UTC)
    token = token_of("read")
    for days, over in ((0, False), (1, True)):
        clock.now = last + timedelta(days=days)
        bench.sign_in(token)
        assert (api.get(f"/v1/lots/{lot['id']}").body["over_age"] > 0) is over
        for path in ("/drawers/A3", "/find?kind=sac&size=5.9", f"/bags/{lot['id']}"):
            page = bench.get(path)
            assert page.status == 200, path
            assert ("over age" in page.text.lower()) is over, path
