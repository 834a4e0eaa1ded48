"""Stock over HTTP: counting, discarding, moving, changing, and what promises forbid."""

from __future__ import annotations

from datetime import timedelta

import pytest

from conftest import NOW, Clock
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.extend.host import Declarations
from sparewell.reservations.lapsing import lapse_expired
from sparewell.work import Actor, Work
from support.api import Api


def promised(api: Api, quantity: int = 4) -> tuple[int, int, str]:
    """Return a lot of ten with some promised: its id, the reservation, the job."""
    lot, job = api.stock(cost="8.50"), api.job()
    body = {"lot": lot["id"], "quantity": quantity}
    made = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"][0]
    return lot["id"], made["id"], job


def test_count_sets_what_is_in_hand_and_the_ledger_says_why(api: Api) -> None:
    """A count up or down is one line of the ledger with its note."""
    lot_id, _, _ = promised(api)
    down = api.post(f"/v1/lots/{lot_id}/count", {"counted": 6, "note": "drawer spilt"})
    assert (down.status, down.body["in_hand"], down.body["available"]) == (200, 6, 2)
    assert down.body["cost"] == "5.10"
    up = api.post(f"/v1/lots/{lot_id}/count", {"counted": 12})
    assert (up.body["in_hand"], up.body["promised"]) == (12, 4)
    lines = api.get(f"/v1/movements?lot={lot_id}&verb=counted").body["movements"]
    assert [(line["change"], line["note"]) for line in lines] == [(-4, "drawer spilt"), (6, "")]


@pytest.mark.parametrize(
    ("verb", "body"),
    [
        ("count", {"counted": 3}),
        ("discard", {"quantity": 7}),
        ("move", {"drawer": "B1", "quantity": 7}),
        ("move", {"drawer": "B1", "quantity": 10}),
    ],
)
def test_promises_forbid_taking_too_much(api: Api, verb: str, body: dict[str, object]) -> None:
    """What would leave less than is promised is 409, names the job, and does nothing."""
    lot_id, reservation, job = promised(api)
    api.post("/v1/drawers", {"code": "B1"})
    refused = api.post(f"/v1/lots/{lot_id}/{verb}", body)
    assert refused.status == 409
    assert job in refused.body["detail"]
    assert refused.body["errors"][0]["reservation"] == reservation
    after = api.get(f"/v1/lots/{lot_id}").body
    assert (after["in_hand"], after["promised"]) == (10, 4)
    allowed = api.post(f"/v1/lots/{lot_id}/{verb}", body | {"release": [reservation]})
    assert allowed.status == 200
    assert api.get(f"/v1/reservations/{reservation}").body["state"] == "released"


def test_discard_takes_pieces_and_their_share_of_the_cost(api: Api) -> None:
    """Discarding all pieces takes the whole cost, to the last unit."""
    lot = api.stock(quantity=3, cost="1.00")
    left = [
        api.post(f"/v1/lots/{lot['id']}/discard", {"quantity": 1}).body["cost"] for _ in range(3)
    ]
    assert left == ["0.67", "0.34", "0.00"]


def test_whole_lot_moves_with_its_promises(api: Api) -> None:
    """Without a quantity the lot itself moves, promises and all."""
    lot_id, _, _ = promised(api)
    api.post("/v1/drawers", {"code": "B1"})
    moved = api.post(f"/v1/lots/{lot_id}/move", {"drawer": "B1"})
    assert (moved.body["id"], moved.body["place"], moved.body["promised"]) == (lot_id, "B1", 4)


def test_some_of_a_lot_become_a_lot_of_their_own(api: Api) -> None:
    """Moved pieces keep measurements, age, label and their share of the cost."""
    lot = api.stock(cost="8.50", made_on="2026-Q1", label="16")
    api.post("/v1/drawers", {"code": "B1"})
    moved = api.post(f"/v1/lots/{lot['id']}/move", {"drawer": "B1", "quantity": 4}).body
    assert (moved["parent_lot"], moved["in_hand"], moved["cost"]) == (lot["id"], 4, "3.40")
    for member in ("measured", "dimensions", "basis", "label", "made_on", "material"):
        assert moved[member] == lot[member]
    left = api.get(f"/v1/lots/{lot['id']}").body
    assert (left["in_hand"], left["cost"], left["place"]) == (6, "5.10", "A3")
    lines = api.get("/v1/movements?verb=moved").body["movements"]
    assert [line["change"] for line in lines] == [-4, 4]
    assert lines[0]["group"] == lines[1]["group"]


def test_changed_part_is_followed_by_its_unmeasured_lots(api: Api) -> None:
    """A corrected nominal dimension reaches the lots that rest on it, not the measured ones."""
    measured, nominal = api.stock(), api.stock(measured={})
    api.patch("/v1/parts/SAC-15-STR", {"dimensions": {"outside_diameter": "6.2 mm"}})
    dimensions = [
        api.get(f"/v1/lots/{lot['id']}").body["dimensions"]["outside_diameter"]
        for lot in (measured, nominal)
    ]
    assert dimensions == [5.9, 6.2]


def test_measuring_a_bag_later_turns_its_basis(api: Api) -> None:
    """A measurement added to a lot counts from then on; taken away, the nominal counts again."""
    lot = api.stock(measured={})
    path = f"/v1/lots/{lot['id']}"
    changed = api.patch(path, {"measured": {"outside_diameter": "0.24 in"}}).body
    assert changed["basis"]["outside_diameter"] == "measured"
    assert changed["dimensions"]["outside_diameter"] == 6.096
    back = api.patch(path, {"measured": {"outside_diameter": None}}).body
    assert back["basis"]["outside_diameter"] == "nominal"
    assert back["dimensions"]["outside_diameter"] == 5.953125


def test_nominal_that_contradicts_the_measurement_is_left_out(api: Api) -> None:
    """A bag measured thinner than its nominal inside keeps the measurement only."""
    lot = api.stock(measured={"outside_diameter": "5.0 mm"})
    assert lot["dimensions"]["outside_diameter"] == 5.0
    assert "inside_diameter" not in lot["dimensions"]


def test_reservation_ends_piece_by_piece(api: Api) -> None:
    """Of four promised, one fetched, one used, one spoiled, one released: each counted once."""
    lot_id, reservation, _ = promised(api)
    path = f"/v1/reservations/{reservation}"
    assert api.post(f"{path}/fetch", {"quantity": 3}).body["in_tray"] == 3
    assert api.post(f"{path}/use", {"quantity": 1}).body["in_tray"] == 2
    assert api.post(f"{path}/spoil", {"quantity": 1}).body["promised"] == 2
    refused = api.post(f"{path}/use", {"quantity": 3})
    assert refused.status == 409
    last = api.post(f"{path}/release").body
    assert (last["state"], last["used"], last["spoiled"], last["released"]) == ("released", 1, 1, 2)
    after = api.get(f"/v1/lots/{lot_id}").body
    assert (after["in_hand"], after["promised"]) == (8, 0)


def test_holds_stay_unless_a_lapse_time_is_set(
    api: Api, clock: Clock, database: Database, declared: Declarations
) -> None:
    """Without the setting a hold has no end, however long it is left."""
    _, reservation, _ = promised(api)
    clock.now = NOW + timedelta(days=3650)
    work_at = lambda session: Work(session, clock.now, Actor("sweep"), declared)  # noqa: E731
    assert write(database, lambda session: lapse_expired(work_at(session))) == 0
    assert api.get(f"/v1/reservations/{reservation}").body["state"] == "held"


def test_hold_lapses_when_its_time_is_over_and_frees_the_piece(api: Api, clock: Clock) -> None:
    """A lapsed hold is given to the next asker, and its own job cannot use it any more."""
    setting = {"value": 24, "why": "two benches share the drawer"}
    assert api.patch("/v1/settings/stock.hold_lapses_after_hours", setting).status == 200
    lot = api.stock(quantity=1)
    first, second = api.job(), api.job()
    held = api.post(f"/v1/jobs/{first}/reservations").body["reservations"][0]
    assert held["expires_at"] == "2026-11-26T12:00:00.000Z"
    clock.now = NOW + timedelta(hours=23)
    assert api.post(f"/v1/jobs/{second}/reservations").status == 409
    clock.now = NOW + timedelta(hours=24)
    assert api.post(f"/v1/reservations/{held['id']}/use").status == 409
    assert api.post(f"/v1/jobs/{second}/reservations").status == 201
    assert api.get(f"/v1/reservations/{held['id']}").body["state"] == "lapsed"
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 1


def test_fetched_piece_never_lapses(api: Api, clock: Clock) -> None:
    """Once in the tray a piece stays promised, whatever the lapse time says."""
    setting = {"value": "0.5", "why": "short holds"}
    api.patch("/v1/settings/stock.hold_lapses_after_hours", setting)
    api.stock(quantity=1)
    first, second = api.job(), api.job()
    held = api.post(f"/v1/jobs/{first}/reservations").body["reservations"][0]
    api.post(f"/v1/reservations/{held['id']}/fetch")
    clock.now = NOW + timedelta(days=30)
    assert api.post(f"/v1/jobs/{second}/reservations").status == 409
    assert api.post(f"/v1/reservations/{held['id']}/use").status == 200


def test_making_date_decides_until_when_a_lot_should_be_fitted(api: Api) -> None:
    """Latex keeps five years from making (ISO 2230:2002, group A), or from arrival if unknown."""
    dated = api.stock(made_on="2024-Q2")
    assert (dated["made_on"], dated["fit_by"]) == ("2024-Q2", "2029-04-01")
    assert dated["fit_by_counted_from"] == "made_on"
    undated = api.stock()
    assert (undated["made_on"], undated["fit_by"]) == (None, "2031-11-25")
    assert undated["fit_by_counted_from"] == "arrived_at"
    vinyl = api.stock(material="pvc", material_confidence="tested", label="silicone 15")
    assert vinyl["material"] == "pvc"
    assert api.stock(material="unobtainium")["warnings"]


def test_cautions_of_the_plan_follow_material_and_step(api: Api) -> None:
    """Celluloid calls for the fire caution; a pen of unknown material for water and heat both."""
    api.stock()
    job = api.job()
    cautions = api.get(f"/v1/jobs/{job}/plan").body["cautions"]
    celluloid = next(each for each in cautions if "burns fiercely" in each["caution"])
    assert celluloid["steps"] == ["heat"]
    assert celluloid["dismissible"] is False
    assert not any("Casein" in each["caution"] for each in cautions)
    steps = {step["name"]: step["cautions"] for step in api.get(f"/v1/jobs/{job}").body["steps"]}
    assert celluloid["caution"] in steps["heat"]
    assert celluloid["caution"] not in steps["fit"]
    pen = {"called": "mystery", "filling_system": "lever", "materials": ["pearly stuff"]}
    number = api.post("/v1/pens", pen).body["number"]
    unknown = api.post("/v1/jobs", {"pen": number}).body["number"]
    texts = [each["caution"] for each in api.get(f"/v1/jobs/{unknown}/plan").body["cautions"]]
    assert any("Casein" in text and "not fully known" in text for text in texts)
    assert any("burns fiercely" in text for text in texts)


def test_readings_are_added_never_overwritten(api: Api) -> None:
    """A later reading counts, the earlier one stays with its instrument, spread and text."""
    job = api.job(bar_height={"value": "0.035 in", "instrument": "feeler", "spread": "0.05 mm"})
    pen = api.get(f"/v1/jobs/{job}").body["pen"]
    after = api.post(f"/v1/pens/{pen}/readings", {"readings": {"bar_height": "0.9 mm"}}).body
    assert after["readings"]["bar_height"]["value"] == 0.9
    history = [each for each in after["all_readings"] if each["name"] == "bar_height"]
    assert [each["entered"] for each in history] == ["0.035 in", "0.9 mm"]
    assert (history[0]["instrument"], history[0]["spread"]) == ("feeler", 0.05)
    assert history[0]["value"] == 0.889


def test_names_with_letters_of_any_language_work(api: Api) -> None:
    """A drawer may be called what people call it, and its address can be followed."""
    made = api.post("/v1/drawers", {"code": "Schublade Ä 3½"})
    assert made.status == 201
    assert api.get(made.headers["Location"]).body["code"] == "Schublade Ä 3½"


def test_over_age_pieces_are_counted_apart(api: Api) -> None:
    """A lot past its date says how many of it are over age, and a day can be asked about."""
    dead = api.stock(made_on="2019", quantity=2)
    aging = api.stock(made_on="2022-01-15", quantity=3)
    undated = api.stock(quantity=4)
    vinyl = api.stock(made_on="2019", material="pvc", quantity=5)
    assert (dead["available"], dead["over_age"]) == (2, 2)
    assert (aging["available"], aging["over_age"]) == (3, 0)

    def in_date(day: str) -> list[int]:
        return [lot["id"] for lot in api.get(f"/v1/lots?fit_on={day}").body["lots"]]

    assert in_date("2026-11-25") == [aging["id"], undated["id"], vinyl["id"]]
    assert in_date("2027-01-15") == [aging["id"], undated["id"], vinyl["id"]]
    assert in_date("2027-01-16") == [undated["id"], vinyl["id"]]
    assert in_date("2031-11-25") == [undated["id"]]
    assert in_date("2031-11-26") == []
    for day in ("soon", "0001-01-01", "9999-12-31", "2026-02-30"):
        assert api.get(f"/v1/lots?fit_on={day}").status == 422


def test_attributes_are_kept_found_and_refused(api: Api) -> None:
    """A cap is found by the starts and hand of its thread; what its kind does not know is 422."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", {"number": "CAP", "kind": "cap"})
    body = {
        "part": "CAP",
        "drawer": "A3",
        "quantity": 1,
        "measured": {"thread_diameter": "12.6 mm"},
    }
    triple = api.post(
        "/v1/lots",
        body | {"attributes": {"thread_starts": 3, "thread_hand": "right", "colour_note": "olive"}},
    )
    assert triple.status == 201, triple.text
    assert triple.body["attributes"]["thread_starts"] == 3
    api.post("/v1/lots", body | {"attributes": {"thread_starts": 1, "thread_hand": "left"}})

    def found(wanted: str) -> list[int]:
        path = f"/v1/lots?kind=cap&thread_diameter_min=12.5&thread_diameter_max=12.7&{wanted}"
        return [lot["id"] for lot in api.get(path).body["lots"]]

    assert found("attributes=thread_starts:3,thread_hand:right") == [triple.body["id"]]
    assert found("attributes=thread_starts:3,thread_hand:left") == []
    assert len(found("available_min=1")) == 2
    assert api.get("/v1/lots?attributes=thread_starts").status == 422
    for bad in ({"girth": 1}, {"thread_starts": "three"}, {"thread_hand": "up"}):
        refused = api.post("/v1/lots", body | {"attributes": bad})
        assert refused.status == 422
        assert refused.body["errors"][0]["pointer"] == f"/attributes/{next(iter(bad))}"
    path = f"/v1/lots/{triple.body['id']}"
    changed = api.patch(path, {"attributes": {"thread_hand": None, "thread_starts": 2}}).body
    assert changed["attributes"] == {"thread_starts": 2, "colour_note": "olive"}


def test_the_ledger_is_read_from_a_day_on(api: Api, clock: Clock) -> None:
    """`since` leaves out what was noted before that day, and takes the day itself in."""
    first = api.stock()["id"]
    clock.now += timedelta(days=2)
    second = api.stock()["id"]
    day = clock.now.date().isoformat()
    found = api.get(f"/v1/movements?verb=arrived&since={day}").body["movements"]
    assert [line["lot"] for line in found] == [second]
    everything = api.get("/v1/movements?verb=arrived&since=2026-11-25").body["movements"]
    assert [line["lot"] for line in everything] == [first, second]
    assert api.get("/v1/movements?since=yesterday").status == 422


def test_the_same_cost_again_is_no_movement(api: Api) -> None:
    """A cost that is said anew as it was leaves no line in the ledger."""
    lot = api.stock(cost="12.50")
    path, lines = f"/v1/lots/{lot['id']}", f"/v1/movements?lot={lot['id']}"
    before = api.get(lines).body["movements"]
    assert api.patch(path, {"cost": "12,50"}).status == 200
    assert api.get(lines).body["movements"] == before
    api.patch(path, {"cost": "13"})
    assert len(api.get(lines).body["movements"]) == len(before) + 1
