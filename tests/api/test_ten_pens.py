"""Ten pens of ten systems over the API, intake to close, with a book kept beside the ledger."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from sparewell.audit.pieces import audit
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from support.api import ANYWAY, Api
from support.lines_of_pens import Line, sac
from support.pens_of_systems import PENS

CALLED = {
    "crescent": "black chased",
    "squeeze_bar": "with a broken tube",
    "pneumatic": "slender",
    "plunger_vacuum": "amber, three packings",
    "diaphragm_pump": "slender",
    "piston": "striped, two rings",
    "eyedropper": "red, joint weeps",
    "converter": "school pen",
}
# One and the same barrel, as two people read it.
IN_MILLIMETRES = {
    "barrel_bore": {"value": "8.0 mm", "instrument": "plug gauge", "spread": "0.02 mm"},
    "bar_height": 0.9,
    "nipple_diameter": "6,4 mm",
    "barrel_depth": "62",
}
IN_INCHES = {
    "barrel_bore": "0.315 in",
    "bar_height": {"value": "0.0355 in", "instrument": "depth gauge"},
    "nipple_diameter": "0.252 in",
    "barrel_depth": "2 7/16 in",
}


class Bench:
    """The service, and a book of every line that the ledger has to have, lot by lot."""

    def __init__(self, api: Api) -> None:
        self.api = api
        self.book: dict[int, list[tuple[str, int]]] = defaultdict(list)
        self.inside: dict[str, set[int]] = defaultdict(set)
        self.pens: dict[str, str] = {}

    def ask(self, path: str, body: Mapping[str, Any], status: int) -> Any:
        """Send what has to be answered so; return the document."""
        reply = self.api.post(path, body)
        assert reply.status == status, reply.text
        return reply.body

    def arrives(self, line: Line, quantity: int, made_on: str | None = None) -> int:
        """Take in measured pieces that suit a line; return the lot."""
        number = f"P{len(self.book)}"
        dimensions = dict(line.right)
        part = {"number": number, "kind": line.kind, "dimensions": dimensions}
        self.ask("/v1/parts", part, 201)
        lot = {"part": number, "drawer": "A1", "quantity": quantity, "measured": dimensions}
        more = {"material": line.material, "made_on": made_on, "cost": "3.33"}
        lot |= {name: value for name, value in more.items() if value is not None}
        made = int(self.ask("/v1/lots", lot, 201)["id"])
        self.book[made].append(("arrived", quantity))
        return made

    def opens(self, system: str, readings: Mapping[str, Any]) -> str:
        """Take a pen in and open its job."""
        body = {"called": f"a {system}", "filling_system": system, "readings": readings}
        pen = self.ask("/v1/pens", body, 201)["number"]
        job = str(self.ask("/v1/jobs", {"pen": pen}, 201)["number"])
        self.pens[job] = pen
        return job

    def need(self, job: str, position: int, **decided: Any) -> int:
        """Return a need's id, once it is decided."""
        need = self.api.get(f"/v1/jobs/{job}").body["needs"][position]
        if need["state"] == "undecided":
            path = f"/v1/jobs/{job}/needs/{need['id']}"
            assert self.api.patch(path, {"decided": True, **decided}).status == 200
        return int(need["id"])

    def reserves(self, job: str, line: Line, lot: int) -> int:
        """Promise pieces of a lot to the need of a line; a calculator must agree with it."""
        need = self.need(job, line.position, quantity=line.quantity)
        body = {"lot": lot, "quantity": line.quantity, "need": need}
        (made,) = self.ask(f"/v1/jobs/{job}/reservations", body, 201)["reservations"]
        # Over all its tolerances a ring may be one to try in.
        assert made["verdict"] in (("fits", "try_in") if line.decoy else (None,)), made
        return int(made["id"])

    def fits(self, job: str, reservation: int, *, fetched: bool = False) -> None:
        """Use what is promised."""
        if fetched:
            self.fetches(reservation)
        row = self.ask(f"/v1/reservations/{reservation}/use", {}, 200)
        self.book[row["lot"]].append(("fitted", -row["used"]))
        self.inside[job].add(row["lot"])

    def fetches(self, reservation: int) -> None:
        """Put what is promised into the job's tray."""
        row = self.ask(f"/v1/reservations/{reservation}/fetch", {}, 200)
        self.book[row["lot"]].append(("moved", 0))

    def closes(self, job: str) -> None:
        """Close a job; everything used in it turned out good."""
        used = self.api.get(f"/v1/reservations?job={job}&state=used").body["reservations"]
        outcomes = [{"reservation": row["id"], "outcome": "good"} for row in used]
        assert (
            self.ask(f"/v1/jobs/{job}/close", {"outcomes": outcomes} | ANYWAY, 200)["state"]
            == "closed"
        )


def two_want_the_last_sac(bench: Bench) -> Iterator[str]:
    """One of two has the only sac, the other is told who, and waits for one that is bought."""
    line = sac(0, 8.0 - 1.8, 6.4)
    last = bench.arrives(line, 1, "2025")
    has, waits = bench.opens("lever", IN_MILLIMETRES), bench.opens("button", IN_INCHES)
    (made,) = bench.ask(f"/v1/jobs/{has}/reservations", {}, 201)["reservations"]
    assert made["lot"] == last
    short = bench.ask(f"/v1/jobs/{waits}/reservations", {}, 409)
    assert has in short["detail"]
    named = bench.ask(f"/v1/jobs/{waits}/reservations", {"lot": last}, 409)
    assert named["errors"][0]["jobs"] == [has]
    order = bench.api.get(f"/v1/jobs/{waits}/plan").body["needs"][0]["to_order"]
    assert [(each["kind"], each["quantity"]) for each in order] == [("sac", 1)]
    bench.fits(has, made["id"], fetched=True)
    bought = bench.arrives(line, 3, "2026-Q4")
    (made,) = bench.ask(f"/v1/jobs/{waits}/reservations", {}, 201)["reservations"]
    assert made["lot"] == bought
    bench.fits(waits, made["id"])
    yield from (has, waits)


def one_is_spoiled(bench: Bench, job: str, line: Line) -> None:
    """A sac tears at fitting, and the next one is promised in the same breath."""
    torn, good = bench.arrives(line, 1, "2024"), bench.arrives(line, 1, "2025")
    reservation = bench.reserves(job, line, torn)
    bench.fetches(reservation)
    body = {"reserve_next": True, "note": "torn"}
    told = bench.ask(f"/v1/reservations/{reservation}/spoil", body, 200)
    bench.book[torn].append(("spoiled", -1))
    (made,) = told["next"]["reserved"]
    assert made["lot"] == good
    bench.fits(job, made["id"])


def stripped(bench: Bench, line: Line) -> int:
    """Take a piece that suits a line out of a donor; return its lot."""
    component = {"kind": line.kind, "state": "present", "measured": dict(line.right)}
    donor = bench.ask("/v1/donors", {"called": "wreck", "components": [component]}, 201)
    lot = int(donor["components"][0]["lot"])
    strip = {"lots": [lot], "drawer": "A1"}
    bench.ask(f"/v1/donors/{donor['number']}/strip", strip, 200)
    bench.book[lot] += [("arrived", 1), ("stripped", 0)]
    return lot


def punched(bench: Bench, line: Line) -> int:
    """Punch washers that suit a line out of a sheet; return their lot."""
    sheet = {"width": 40, "length": 60, "thickness": line.right["thickness"]}
    taken = bench.arrives(Line(0, "sheet", sheet), 2)
    bench.ask("/v1/parts", {"number": "WASHER", "kind": line.kind}, 201)
    size = {name: line.right[name] for name in ("outside_diameter", "inside_diameter")}
    body = {"part": "WASHER", "quantity": 5, **size}
    made, offcut = bench.ask(f"/v1/lots/{taken}/punch", body, 201)["made"]
    bench.book[taken].append(("punched", -1))
    bench.book[made["id"]].append(("punched", 5))
    bench.book[offcut["id"]].append(("punched", 1))
    return int(made["id"])


def opened(bench: Bench, lines: tuple[Line, ...]) -> list[int]:
    """Open a kit that holds what suits these lines; return the lots."""
    kit = bench.arrives(Line(0, "sheet", {}), 2)
    contents = []
    for line in lines:
        part = {"number": line.kind.upper(), "kind": line.kind, "dimensions": dict(line.right)}
        bench.ask("/v1/parts", part, 201)
        contents.append({"part": line.kind.upper(), "quantity": 2})
    made = bench.ask(f"/v1/lots/{kit}/open-kit", {"contents": contents}, 201)["made"]
    bench.book[kit].append(("opened", -1))
    for lot in made:
        bench.book[lot["id"]].append(("opened", 2))
    return [lot["id"] for lot in made]


def repaired(bench: Bench) -> Iterator[str]:
    """Repair the ten pens; yield their jobs."""
    yield from two_want_the_last_sac(bench)
    for pen in PENS:
        if CALLED.get(pen.system) != pen.called:
            continue
        job = bench.opens(pen.system, pen.readings)
        lots: list[int | None] = [None] * len(pen.lines)
        match pen.system:
            case "crescent":
                one_is_spoiled(bench, job, pen.lines[0])
                yield job
                continue
            case "squeeze_bar":
                lots[1] = stripped(bench, pen.lines[1])
            case "plunger_vacuum":
                lots[0] = punched(bench, pen.lines[0])
            case "diaphragm_pump":
                lots[:] = opened(bench, pen.lines)
        for line, lot in zip(pen.lines, lots, strict=True):
            reservation = bench.reserves(job, line, lot or bench.arrives(line, line.quantity + 2))
            bench.fits(job, reservation, fetched=line.position == 0)
        yield job


def test_ten_pens_leave_a_ledger_that_explains_every_piece(api: Api, database: Database) -> None:
    """Each lot's pieces are its own lines in the ledger, and each pen's history names its lots."""
    bench = Bench(api)
    bench.ask("/v1/drawers", {"code": "A1"}, 201)
    jobs = list(repaired(bench))
    for job in jobs:
        bench.closes(job)
    systems = {api.get(f"/v1/jobs/{job}").body["filling_system"] for job in jobs}
    assert systems == {"lever", "button", *CALLED}
    assert len(jobs) == len(systems) == 10
    lines = api.get("/v1/movements?limit=500").body["movements"]
    by_lot = defaultdict(list)
    for line in lines:
        by_lot[line["lot"]].append((line["verb"], line["change"]))
    assert by_lot == bench.book
    lots = api.get("/v1/lots?limit=500").body["lots"]
    assert {lot["id"] for lot in lots} == set(bench.book)
    for lot in lots:
        left = sum(change for _, change in bench.book[lot["id"]])
        assert (lot["in_hand"], lot["promised"]) == (left, 0), lot
    for job, pen in bench.pens.items():
        inside = api.get(f"/v1/pens/{pen}/contents").body["contents"]
        assert {each["lot"] for each in inside} == bench.inside[job]
        told = api.get(f"/v1/pens/{pen}/history?limit=500").body["history"]
        used = {each["details"]["lot"] for each in told if each["what"] == "used"}
        assert used == bench.inside[job]
    with read(database) as session:
        assert audit(session).faults == ()
