"""The page of what was learned: its questions, its plots and its tables; and the setting's page."""

from __future__ import annotations

from sparewell.bench import learned_plot
from sparewell.bench.learned_plot import PlottedBand, across
from sparewell.learned.wilson import wilson
from support.api import Api
from support.bench import Bench


def fitted(api: Api, lot: int, outcome: str) -> None:
    """Fit a sac of a lot to a pen of its own, and say how it is."""
    made = api.post(f"/v1/jobs/{api.job()}/reservations", {"lot": lot})
    row_id = made.body["reservations"][0]["id"]
    api.post(f"/v1/reservations/{row_id}/use", {"glue": "shellac"})
    api.post(f"/v1/reservations/{row_id}/outcomes", {"outcome": outcome})


def test_nothing_learned_is_said(bench: Bench) -> None:
    """Before anything was fitted the page says so, and how it will be counted."""
    page = bench.get("/learned")
    assert "0 fitted, 0 heard of, 0 failed." in page.text
    assert "No share is given of fewer than 10" in page.text
    assert "/learned" in bench.get("/more").links.values()


def test_of_few_nothing_is_plotted(bench: Bench, api: Api) -> None:
    """Margins of few are only named; a failed bag has its sister pens, and glue its row."""
    lot = api.stock()["id"]
    for outcome in ("good", "leaked"):
        fitted(api, lot, outcome)
    page = bench.get("/learned")
    for said in (
        "2 fitted, 2 heard of, 1 failed.",
        "Too little was heard of to say anything by sac: barrel; sac: over nipple",
        "sac: stretch (material latex)",
        "sac, shellac",
        "Sac: months until it failed",
        "Look also at",
    ):
        assert said in page.text, said
    assert {f"/bags/{lot}", "/pens/PEN-0001"} <= set(page.links.values())
    assert "/pens/PEN-0002" not in page.links.values()


def test_a_question_stands_beside_its_setting(bench: Bench, api: Api) -> None:
    """By thirty outcomes a margin has plot and table, and its setting's page offers the reason."""
    lot = api.stock(quantity=40)["id"]
    for number in range(30):
        fitted(api, lot, "leaked" if number % 3 == 0 else "good")
    path = "/settings/sac.stretch_acceptable"
    learned = bench.get("/learned")
    assert path in learned.links.values()
    for said in ("Sac: stretch (material latex)", "20 to 30 %", "33.3 % (19.2 to 51.2 %)"):
        assert said in learned.text, said
    page = bench.get(path)
    assert "Of 30 heard of between sac.stretch_good (20 %)" in page.text
    why = page.form(path)["why"]
    assert why.endswith("That is more than the 10 % expected.")
    bench.send(page, path, value="25")
    assert api.get("/v1/settings/sac.stretch_acceptable").body["why"] == why
    assert "Of 30 heard of" not in bench.get("/settings/sac.stretch_good").text


def test_the_plot_shows_each_interval_where_it_lies() -> None:
    """A band of thirty has its dot and its ends; one of few says so, and all is said in words."""
    share = wilson(10, 30)
    bands = [PlottedBand("20 to 30 %", 30, share), PlottedBand("<b>", 4, None)]
    drawn = str(learned_plot.drawn(bands, 0.1, "Sac: stretch"))
    assert 'aria-label="Sac: stretch: 20 to 30 %: 33 % failed"' in drawn
    assert f'<circle cx="{across(1 / 3)}"' in drawn
    assert f'd="M{across(share.low)} 18H{across(share.high)}"' in drawn
    assert f'class="threshold" d="M{across(0.1)} ' in drawn
    assert "&lt;b&gt;" in drawn
    assert "4 heard of, too few to say" in drawn
    assert across(0) < across(0.1) < across(1) < learned_plot.WIDTH
