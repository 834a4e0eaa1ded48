"""Receiving a parcel on the bench page: bag after bag, with as little typing as can be."""

from __future__ import annotations

from support.api import Api
from support.bench import Bench, Page


def chosen(bench: Bench, part: str = "SAC-15-STR", **more: str) -> Page:
    """The page that asks for the numbers of a part."""
    return bench.send(bench.get("/receive"), "/receive", "Go on", part=part, drawer="A3", **more)


def test_a_bag_needs_its_number_of_pieces_only(bench: Bench, api: Api) -> None:
    """A part, a drawer and how many; the measured size is asked for by its own name."""
    api.stock()
    page = chosen(bench)
    assert page.labels["measured/outside_diameter"] == "Outside diameter"
    assert "catalogued as 5.953 mm" in page.text
    done = bench.send(page, "/receive", "Put it away", quantity="12")
    assert "Put away." in done.text
    lot = api.get("/v1/lots").body["lots"][-1]
    assert (lot["part"], lot["place"], lot["in_hand"]) == ("SAC-15-STR", "A3", 12)
    assert lot["measured"] == {}


def test_everything_the_packet_says_is_kept(bench: Bench, api: Api) -> None:
    """What was typed stands on the bag as it was typed."""
    api.stock()
    typed = {
        "quantity": "12",
        "measured/outside_diameter": "15/64 in",
        "measured/length": "74,5 mm",
        "label": "No. 15, straight",
        "made_on": "2026-Q1",
        "cost": "8,50",
        "material": "silicone",
        "note": "thinner than the last",
    }
    bench.send(chosen(bench), "/receive", "Put it away", **typed)
    lot = api.get("/v1/lots").body["lots"][-1]
    entered = {"outside_diameter": "15/64 in", "length": "74,5 mm"}
    assert lot["measured_as_entered"] == entered
    assert (lot["label"], lot["made_on"], lot["cost"]) == ("No. 15, straight", "2026-Q1", "8.50")
    assert (lot["material"], lot["note"]) == ("silicone", "thinner than the last")


def test_the_next_bag_of_the_parcel_keeps_the_drawer(bench: Bench, api: Api) -> None:
    """After a bag the next part is asked for; the bag just put away is one press away."""
    api.stock()
    api.post("/v1/drawers", {"code": "B1"})
    done = bench.send(chosen(bench), "/receive", "Put it away", quantity="3", drawer="B1")
    assert "The next bag" in done.text
    assert done.form("/receive")["drawer"] == "B1"
    lot = api.get("/v1/lots").body["lots"][-1]["id"]
    assert done.links[f"See bag {lot}"] == f"/bags/{lot}"
    again = bench.send(done, "/receive", "Go on", part="SAC-15-STR")
    assert again.form("/receive")["drawer"] == "B1"


def test_a_part_that_is_new_is_made_on_the_way(bench: Bench, api: Api) -> None:
    """Its number, what it is and its name are enough; nothing is made before the bag is."""
    api.stock()
    page = chosen(bench, "OR-5X1", kind="o_ring", name="ring 5 by 1")
    assert page.labels["measured/inside_diameter"] == "Inside diameter"
    assert api.get("/v1/parts/OR-5X1").status == 404
    bench.send(page, "/receive", "Put it away", quantity="20")
    part = api.get("/v1/parts/OR-5X1").body
    assert (part["kind"], part["name"]) == ("o_ring", "ring 5 by 1")
    assert api.get("/v1/lots").body["lots"][-1]["part"] == "OR-5X1"


def test_an_unknown_part_asks_what_it_is(bench: Bench, api: Api) -> None:
    """The number stays, and the kinds stand to choose from."""
    api.stock()
    page = chosen(bench, "OR-5X1")
    assert page.status == 422
    assert "not in the catalogue yet" in page.faults["kind"]
    form = page.form("/receive")
    assert (form["part"], form["drawer"]) == ("OR-5X1", "A3")
    assert "o_ring" in form.offered["kind"]


def test_a_refused_bag_keeps_everything_at_its_field(bench: Bench, api: Api) -> None:
    """Three faults, each told where it is; nothing was put away."""
    api.stock()
    typed = {
        "quantity": "a dozen",
        "measured/outside_diameter": "6 cubits",
        "made_on": "last spring",
        "label": "No. 15",
        "cost": "8.50",
    }
    page = bench.send(chosen(bench), "/receive", "Put it away", **typed)
    assert page.status == 422
    assert page.faults.keys() == {"quantity", "measured/outside_diameter", "made_on"}
    assert {name: page.form("/receive")[name] for name in typed} == typed
    assert len(api.get("/v1/lots").body["lots"]) == 1
    mended = {"quantity": "12", "measured/outside_diameter": "6 mm", "made_on": "2026"}
    assert "Put away." in bench.send(page, "/receive", "Put it away", **mended).text


def test_a_refused_new_part_goes_back_with_what_was_typed(bench: Bench, api: Api) -> None:
    """A number that cannot stand in addresses is told at the part; the numbers typed go along."""
    api.stock()
    typed = {"part": "OR/5", "kind": "o_ring", "drawer": "A3", "quantity": "20", "label": "rings"}
    page = bench.post("/receive", typed)
    assert page.status == 422
    assert "stands in addresses" in page.faults["part"]
    form = page.form("/receive")
    assert (form["part"], form["kind"], form["quantity"]) == ("OR/5", "o_ring", "20")
    further = bench.send(page, "/receive", "Go on", part="OR-5")
    assert further.form("/receive")["quantity"] == "20"
    assert further.form("/receive")["label"] == "rings"
    assert "Put away." in bench.send(further, "/receive", "Put it away").text


def test_without_a_drawer_one_is_to_be_made(bench: Bench) -> None:
    """An empty workshop is led to make its first drawer."""
    page = bench.get("/receive")
    assert page.links["Make one first."] == "/drawers#new"


def test_a_bag_pressed_twice_is_put_away_once(bench: Bench, api: Api) -> None:
    """The same form sent again makes no second bag."""
    api.stock()
    page = chosen(bench)
    for _ in range(2):
        assert "Put away." in bench.send(page, "/receive", "Put it away", quantity="5").text
    assert len(api.get("/v1/lots").body["lots"]) == 2


def test_what_is_odd_about_a_bag_is_said_as_it_is_put_away(bench: Bench, api: Api) -> None:
    """A packet that says 15 and measures two sizes more is doubted on the next page at once."""
    api.stock()
    typed = {"quantity": "3", "label": "SAC-15", "measured/outside_diameter": "7.2 mm"}
    done = bench.send(chosen(bench), "/receive", "Put it away", **typed)
    lot = api.get("/v1/lots").body["lots"][-1]
    assert lot["warnings"]
    for doubt in lot["warnings"]:
        assert f"Bag {lot['id']}: {doubt}" in done.text
