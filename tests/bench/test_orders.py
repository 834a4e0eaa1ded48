"""What is to be ordered: by supplier, with its reason, its course and its threshold."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sparewell.bench import stock_plot
from support.api import Api
from support.bench import Bench
from support.supply import offer, supplier

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def short_of_fifteens(api: Api) -> str:
    """A workshop with one 15 left, of which a job wants one; the number of the job."""
    api.stock(1)
    return api.job()


def test_nothing_due_is_said(bench: Bench, api: Api) -> None:
    """With enough of everything the page says so, and offers to put a parcel away."""
    api.stock(10)
    page = bench.get("/to-order")
    assert "Nothing is due." in page.text
    assert page.links["A parcel came"] == "/receive"


def test_a_line_stands_under_its_supplier_with_its_reason(bench: Bench, api: Api) -> None:
    """Quantity, part and why; the job that wants it; and the course against the threshold."""
    job = short_of_fifteens(api)
    assert "Nobody known sells it" in bench.get("/to-order").text
    offer(api, supplier(api, "The sac people"))
    (line,) = api.get("/v1/reorder").body["lines"]
    page = bench.get("/to-order")
    assert "The sac people" in page.text
    assert line["why"] in page.text
    assert page.links["SAC-15-STR"] == "/to-order/SAC-15-STR"
    assert page.links[job] == f"/jobs/{job}"
    assert f"1 now, 0 at the least; to be ordered at {line['reorder_point']}" in page.html


def test_the_least_order_names_packs_postage_and_total(bench: Bench, api: Api) -> None:
    """One press says who gets what, what it costs, and what waiting would save."""
    short_of_fifteens(api)
    offer(api, supplier(api, "The sac people"))
    page = bench.send(bench.get("/to-order"), "/to-order", "Who gets what, at the least")
    assert "The sac people: 7.50" in page.text
    assert "postage 4.50" in page.text
    assert "7.50 in all" in page.text
    assert "Waiting 7 days saves" in page.text


def test_a_threshold_is_changed_with_its_reason(bench: Bench, api: Api) -> None:
    """What was said is shown with who said it; without a reason it is refused where it stands."""
    api.stock(5)
    act = "/to-order/SAC-15-STR"
    page = bench.get(act)
    assert "As the workshop has it" in page.text
    refused = bench.send(page, act, policy="keep_at_least", figure="8", why="")
    assert (refused.status, list(refused.faults)) == (422, ["why"])
    assert refused.form(act)["figure"] == "8"
    page = bench.send(refused, act, policy="keep_at_least", figure="8", why="club night")
    assert "club night" in page.text
    assert "SAC-15-STR" in bench.get("/to-order").links
    late = bench.post(act, policy="poisson", figure="0.9", why="late", tag='"old"')
    assert late.status == 412


def test_a_figure_that_is_none_is_refused(bench: Bench, api: Api) -> None:
    """The page says what the rule would take, and keeps what was typed."""
    api.stock(5)
    act = "/to-order/SAC-15-STR"
    for policy, figure in (("keep_at_least", "a few"), ("poisson", "2"), ("poisson", "0,95")):
        page = bench.send(bench.get(act), act, policy=policy, figure=figure, why="tried")
        assert page.status == (200 if figure == "0,95" else 422), (policy, figure)


def test_the_plot_reckons_backwards_from_what_is_there() -> None:
    """Five now, three fitted ten days ago and eight come in thirty: none before, eight, five."""
    changes = [
        stock_plot.StockChange(NOW - timedelta(days=10), -3),
        stock_plot.StockChange(NOW - timedelta(days=30), 8),
    ]
    stock = stock_plot.weekly(NOW, 5, changes)
    assert len(stock) == stock_plot.WEEKS + 1
    assert (stock[0], stock[-6], stock[-5], stock[-3], stock[-2], stock[-1]) == (0, 0, 8, 8, 5, 5)


def test_the_plot_is_drawn_to_its_highest_figure() -> None:
    """The threshold lies where its figure is, and the drawing says itself to whoever cannot see."""
    drawn = str(stock_plot.drawn([0] * 13 + [10] * 14, 5, "SAC-15-STR"))
    assert 'aria-label="SAC-15-STR: 0 half a year ago, 10 now, 0 at the least' in drawn
    middle = stock_plot.HEIGHT - 90 + 8 + (90 - 8 - 16) / 2
    assert f'class="threshold" d="M26 {middle}H' in drawn
    assert "&lt;" in str(stock_plot.drawn([1, 1], None, "<b>"))
