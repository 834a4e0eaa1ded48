"""Which of a batch to open first: by what is in hand, what it costs to finish, what it fetches."""

from __future__ import annotations

from typing import Any

import pytest

from sparewell.database.engine import Database
from support.api import ANYWAY, BODY, Api
from support.statements import counted
from support.supply import made, offer, supplier

SIZES = {"14": "5.55 mm", "15": "5.95 mm", "16": "6.35 mm", "18": "7.15 mm"}


def bag(api: Api, size: str, quantity: int = 10, **more: Any) -> int:
    """Put a bag of sacs of a size into the drawer; return it."""
    number = f"SAC-{size}"
    part = {"number": number, "kind": "sac", "material": "latex"}
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", part | {"dimensions": {"outside_diameter": f"{size}/64 in"}})
    measured = {"outside_diameter": SIZES[size]}
    body = {"part": number, "drawer": "A3", "quantity": quantity, "measured": measured}
    lot = made(api.post("/v1/lots", body | {"material": "latex", "label": size} | more))
    return int(lot["id"])


def fitted(api: Api, lot: int, outcome: str = "good", **more: Any) -> None:
    """Fit a sac of a bag to a lever pen, and close its job."""
    pen = {"called": "an old pen", "filling_system": "lever", "readings": BODY} | more
    job = made(api.post("/v1/jobs", {"pen": made(api.post("/v1/pens", pen))["number"]}))["number"]
    taken = {"lot": lot, "quantity": 1, "override": "it was tried in"}
    (held,) = made(api.post(f"/v1/jobs/{job}/reservations", taken))["reservations"]
    made(api.post(f"/v1/reservations/{held['id']}/use"))
    told = [{"reservation": held["id"], "outcome": outcome}]
    made(api.post(f"/v1/jobs/{job}/close", ANYWAY | {"outcomes": told}))


def unopened(api: Api, **more: Any) -> str:
    """Bring in a pen of which nothing was measured; return its number."""
    pen = {"called": "unopened", "filling_system": "lever", "materials": ["hard rubber"]}
    return str(made(api.post("/v1/pens", pen | more))["number"])


def looked_at(api: Api, *pens: str) -> list[dict[str, Any]]:
    """Return what is said of these pens, in the order in which to open them."""
    found = made(api.get(f"/v1/triage?pens={','.join(pens)}"))
    assert found["left_out"] == []
    return list(found["pens"])


def sac_of(pen: dict[str, Any]) -> dict[str, Any]:
    """Return what is said of a pen's sac."""
    return dict(next(need for need in pen["needs"] if need["kind"] == "sac"))


def test_what_nobody_can_measure_is_as_in_pens_alike(api: Api) -> None:
    """The sizes that lever pens took here, with their count; a tight one is no guide."""
    small, large, tight = bag(api, "14"), bag(api, "16", cost="9.00"), bag(api, "18")
    for lot in (small, large, large):
        fitted(api, lot)
    fitted(api, tight, "tight")
    (pen,) = looked_at(api, unopened(api))
    sac = sac_of(pen)
    assert (sac["sized_by"], sac["missing"][:1]) == ("pens_alike", ["nipple_diameter"])
    assert sac["sizes"] == {
        "smallest": "14",
        "largest": "16",
        "most_often": "16",
        "pens": 3,
        "same_model": False,
    }
    assert "like 3 pens with this filling system (lever) here: 14 to 16" in pen["why"]
    assert (sac["in_hand"], sac["lacking"], pen["all_in_hand"]) == (9 + 8, 0, True)


def test_the_same_model_goes_before_the_same_system(api: Api) -> None:
    """Where a pen of the same model note took a size, only those of that model are counted."""
    fitted(api, bag(api, "14"))
    fitted(api, bag(api, "16"), model_note="Olive  3")
    of_the_model, other = looked_at(
        api, unopened(api, model_note="olive 3"), unopened(api, model_note="blue 5")
    )
    sizes = sac_of(of_the_model)["sizes"]
    assert (sizes["smallest"], sizes["pens"], sizes["same_model"]) == ("16", 1, True)
    assert (sac_of(other)["sizes"]["pens"], sac_of(other)["sizes"]["same_model"]) == (2, False)


def test_a_calculator_sizes_what_was_measured(api: Api) -> None:
    """With every reading a size is worked out, and only pieces that would be taken count."""
    fitted(api, bag(api, "18"))
    bag(api, "15", 3)
    sac = sac_of(looked_at(api, unopened(api, readings=BODY))[0])
    assert (sac["sized_by"], sac["sizes"], sac["in_hand"]) == ("readings", None, 3)
    assert "no. 15" in sac["says"]


def test_a_size_that_nobody_knows_is_said_to_be_unknown(api: Api) -> None:
    """Pieces of any size are counted, none is taken for granted, and the cost is unknown."""
    bag(api, "15", cost="9.00")
    (pen,) = looked_at(api, unopened(api, might_fetch="50.00"))
    sac = sac_of(pen)
    assert (sac["sized_by"], sac["in_hand"], sac["lacking"]) == ("nothing", 10, 1)
    assert (pen["all_in_hand"], pen["parts_cost"], pen["left"]) == (False, None, None)
    assert "nobody knows yet which size: sac" in pen["why"]


def test_what_leaves_most_is_opened_first_and_what_is_in_hand_before_it(api: Api) -> None:
    """First all in hand, by what is left after the parts; a pen of unknown value comes behind."""
    fitted(api, bag(api, "16", 4, cost="4.00"))
    cheap, dear = unopened(api, might_fetch="20.00"), unopened(api, might_fetch="80.00")
    unknown = unopened(api)
    lacking = unopened(api, might_fetch="500.00", filling_system="piston")
    found = looked_at(api, cheap, lacking, unknown, dear)
    assert [each["pen"] for each in found] == [dear, cheap, unknown, lacking]
    assert [each["left"] for each in found] == ["79.00", "19.00", None, None]
    assert found[0]["why"].endswith("79.00 is left of 80.00, its parts at 1.00")
    assert "nobody has said what it might fetch" in found[2]["why"]


def test_the_last_piece_is_counted_once(api: Api) -> None:
    """Whoever stands above has it; the other is short of it, at what a supplier asks for one."""
    fitted(api, bag(api, "16", 2, cost="2.00"))
    offer(api, supplier(api), "SAC-16", prices=[{"packs": 1, "price": "3.01"}])
    first, second = unopened(api, might_fetch="50"), unopened(api, might_fetch="40")
    above, below = looked_at(api, second, first)
    assert (above["pen"], above["all_in_hand"], above["parts_cost"]) == (first, True, "1.00")
    assert (below["all_in_hand"], below["parts_cost"], below["left"]) == (False, "0.31", "39.69")
    assert "which those above have" in below["why"]
    made(api.post("/v1/lots/1/discard", {"quantity": 1}))
    assert {each["left"] for each in looked_at(api, first, second)} == {"49.69", "39.69"}


def test_what_only_shows_when_a_pen_is_open_is_not_taken_for_nothing(api: Api) -> None:
    """A pen all of whose needs wait until it is open stands behind, and it is said why."""
    (pen,) = looked_at(api, unopened(api, might_fetch="500.00", filling_system="piston"))
    assert pen["needs"]
    assert not any(need["counts"] for need in pen["needs"])
    assert (pen["all_in_hand"], pen["left"]) == (False, None)
    assert "only shows when it is open" in pen["why"]


def test_what_a_job_holds_is_no_longer_needed_but_costs(api: Api) -> None:
    """An open job's own needs count: what is promised lacks no more, and its share is a cost."""
    lot = bag(api, "15", 3, cost="6.00")
    pen = unopened(api, readings=BODY, might_fetch="30.00")
    job = made(api.post("/v1/jobs", {"pen": pen}))["number"]
    made(api.post(f"/v1/jobs/{job}/reservations", {"lot": lot}))
    (found,) = looked_at(api, pen)
    assert (found["job"], found["parts_cost"], found["left"]) == (job, "2.00", "28.00")
    assert [need["kind"] for need in found["needs"] if need["counts"]] == []


def test_what_a_promised_piece_cost_is_unknown_where_its_bag_has_no_cost(api: Api) -> None:
    """Nobody noted what the bag cost: what the parts cost is not known, and not nothing."""
    lot = bag(api, "15", 3)
    pen = unopened(api, readings=BODY, might_fetch="30.00")
    job = made(api.post("/v1/jobs", {"pen": pen}))["number"]
    made(api.post(f"/v1/jobs/{job}/reservations", {"lot": lot}))
    (found,) = looked_at(api, pen)
    assert (found["parts_cost"], found["left"]) == (None, None)


def test_a_purchase_is_looked_at_without_what_is_not_to_be_opened(api: Api) -> None:
    """Donors, retired pens and those that are finished are left out, each with its reason."""
    lot = bag(api, "15")
    fitted(api, lot)
    retired, waiting = unopened(api), unopened(api)
    api.patch(f"/v1/pens/{retired}", {"retired": True})
    donor = made(api.post("/v1/donors", {"called": "a wreck"}))["number"]
    lines = [{"pen": "PEN-0001"}, {"pen": retired}, {"pen": waiting}, {"donor": donor}]
    bought = made(api.post("/v1/purchases", {"price": "40.00", "lines": lines}))
    found = made(api.get(f"/v1/purchases/{bought['id']}/triage"))
    assert [each["pen"] for each in found["pens"]] == [waiting]
    assert found["pens"][0]["cost"] == "10.00"
    assert found["left_out"] == [
        {"number": "PEN-0001", "why": "JOB-0001 on it is closed"},
        {"number": retired, "why": "it is retired"},
        {"number": donor, "why": "it is kept to be stripped"},
    ]


@pytest.mark.parametrize("pens", ["PEN-0099", "PEN-0001,DON-0001", ","])
def test_pens_that_there_are_not_are_refused(api: Api, pens: str) -> None:
    """Each is 404, as is a purchase that there is not; to name none at all is 422."""
    unopened(api)
    refused = api.get(f"/v1/triage?pens={pens}")
    assert (refused.status, "there is no pen" in refused.text) == (404, True)
    unsaid = api.get("/v1/triage?pens=")
    assert (unsaid.status, unsaid.body["errors"][0]["parameter"]) == (422, "pens")
    assert api.get("/v1/triage").status == 422
    assert api.get("/v1/purchases/1/triage").status == 404


def batch(api: Api, count: int) -> None:
    """Bring in and buy so many pens of several systems, some of them measured."""
    systems = ("lever", "button", "pneumatic", "lever")
    lines = []
    for number in range(count):
        readings = BODY if number % 2 else {}
        said = {"filling_system": systems[number % len(systems)], "readings": readings}
        lines.append({"pen": unopened(api, **said)})
        if number % 3 == 0:
            made(api.post("/v1/jobs", {"pen": lines[-1]["pen"]}))
    made(api.post("/v1/purchases", {"price": "40.00", "lines": lines}))


def test_a_large_batch_asks_no_more_than_a_small_one(api: Api, database: Database) -> None:
    """However many pens, the same number of statements looks up everything."""
    for size in SIZES:
        fitted(api, bag(api, size))
    offer(api, supplier(api), "SAC-16")
    sent = {}
    for purchase, pens in ((1, 12), (2, 48)):
        batch(api, pens)
        with counted(database) as statements:
            assert len(made(api.get(f"/v1/purchases/{purchase}/triage"))["pens"]) == pens
        sent[purchase] = len(statements)
    assert sent[1] == sent[2]
    assert sent[2] <= 30
