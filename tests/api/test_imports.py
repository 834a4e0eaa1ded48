"""Bringing a notebook in: what is found in a file, what is wrong in it, all or nothing."""

from __future__ import annotations

import sys
from typing import Any
from urllib.parse import urlencode

import pytest

from sparewell.database import faults
from sparewell.imports import views
from support.api import Api, Reply
from support.spreadsheets import MESSY_LOTS, PARTS, PLAIN_LOTS, workbook

CSV = "text/csv"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def send(api: Api, of: str, content: str | bytes, name: str = "cabinet.csv", **more: str) -> Reply:
    """Send a file."""
    raw = content.encode() if isinstance(content, str) else content
    headers = {"Content_Type": XLSX if raw.startswith(b"PK") else CSV}
    headers |= {key: more.pop(key) for key in list(more) if key == "Idempotency_Key"}
    query = urlencode({"of": of, "name": name, **more})
    return api.call("POST", f"/v1/imports?{query}", raw=raw, **headers)


def bring(api: Api, of: str, content: str | bytes, **options: Any) -> dict[str, Any]:
    """Send a file, say something of it, and apply it; all of that has to be accepted."""
    sent = send(api, of, content)
    assert sent.status == 201, sent.text
    path = f"/v1/imports/{sent.body['id']}"
    if options:
        changed = api.patch(path, options)
        assert changed.status == 200, changed.text
        sent = changed
    assert sent.body["state"] == "checked", sent.body["problems"]
    applied = api.post(f"{path}/apply")
    assert applied.status == 200, applied.text
    return dict(applied.body)


def told(body: dict[str, Any]) -> list[tuple[Any, ...]]:
    """Return where each problem is, and its sentence."""
    return [(each["cell"], each["column"], each["detail"]) for each in body["problems"]]


def fields(body: dict[str, Any]) -> dict[str, str | None]:
    """Return what each column is taken as."""
    return {each["header"]: each["field"] for each in body["columns"]}


@pytest.fixture
def stocked(api: Api) -> Api:
    """A workshop with two parts and a drawer."""
    bring(api, "parts", PARTS)
    api.post("/v1/drawers", {"code": "A3"})
    return api


def test_parts_are_brought_in_as_a_beginner_heads_them(api: Api) -> None:
    """Sizes in 64ths, kinds in the plural, decimal commas: each part is as if it was posted."""
    done = bring(api, "parts", PARTS)
    assert (done["state"], done["created"], done["group"]) == ("applied", {"parts": 2}, None)
    part = api.get("/v1/parts/SAC-15-STR").body
    assert (part["kind"], part["name"]) == ("sac", "straight sac, 15")
    assert part["dimensions"] == {
        "outside_diameter": 5.953125,
        "inside_diameter": 5.05,
        "length": 75.0,
    }
    assert api.get("/v1/parts/SAC-16-STR").body["material"] == "latex"


def test_a_messy_sheet_shows_each_fault_in_its_place(stocked: Api) -> None:
    """A title, a sum, blank rows and all: every fault is told by cell, header and sentence."""
    sent = send(stocked, "lots", MESSY_LOTS.encode("cp1252"))
    assert (sent.status, sent.body["state"], sent.body["rows"]) == (201, "faulty", 5)
    assert sent.headers["Location"] == f"/v1/imports/{sent.body['id']}"
    assert fields(sent.body) == {
        "Item": "part",
        "OD (mm)": "measured.outside_diameter",
        "Sac size": "label",
        "Qty": "quantity",
        "Drawer/Box": "drawer",
        "Bought": "arrived_on",
        "Price": "cost",
        "Shop": None,
    }
    assert told(sent.body) == [
        ("E5", "Drawer/Box", "there is no drawer 'A4'"),
        ("F7", "Bought", "'03/04/2025' may be 3 April or 4 March 2025"),
        ("D8", "Qty", "'a few' is no number of pieces"),
        ("G8", "Price", "'=B7*2' is a formula, not what it comes to"),
        ("A8", "Item", "there is no part 'SAC-17'"),
        ("E8", "Drawer/Box", "there is no drawer 'B9'"),
        ("E9", "Drawer/Box", "there is no drawer 'A4'"),
    ]
    assert all(each["accepted"] for each in sent.body["problems"])
    notices = " / ".join(sent.body["notices"])
    for notice in ("Windows-1252", "semicolon", "row 3 is taken", "row 10 is left out", "'Shop'"):
        assert notice in notices
    assert stocked.get("/v1/movements").body["movements"] == []


def test_a_messy_sheet_is_corrected_and_applied_as_one_group(stocked: Api) -> None:
    """With its faults mended and a column mapped by hand, all arrives in one explained group."""
    mended = MESSY_LOTS.replace("a few", "3").replace("=B7*2", "1").replace("SAC-17", "SAC-16-STR")
    sent = send(stocked, "lots", mended, name="the cabinet")
    path = f"/v1/imports/{sent.body['id']}"
    refused = stocked.post(f"{path}/apply")
    assert (refused.status, stocked.get("/v1/lots").body["lots"]) == (409, [])
    options = {
        "create_drawers": True,
        "dates": "day_first",
        "keep_unmapped": True,
        "mapping": {"Price": "cost_each", "Sac size": None},
    }
    changed = stocked.patch(path, options)
    assert (changed.body["state"], changed.body["problems_total"]) == ("checked", 0)
    assert fields(changed.body) | {"Price": "cost_each", "Sac size": None} == fields(changed.body)
    assert "drawers to be made: A4, B9" in changed.body["notices"]
    done = stocked.post(f"{path}/apply").body
    assert done["created"] == {"lots": 5, "pieces": 26, "drawers": ["A4", "B9"]}
    lines = stocked.get(f"/v1/movements?group={done['group']}").body["movements"]
    assert [(line["verb"], line["change"], line["note"]) for line in lines] == [
        ("arrived", change, "the cabinet") for change in (12, 4, 2, 3, 5)
    ]
    lots = stocked.get("/v1/lots").body["lots"]
    assert [lot["cost"] for lot in lots] == ["102.00", "16.00", None, "3.00", None]
    assert lots[1]["measured"] == {"outside_diameter": 6.35}
    assert lots[1]["note"] == "Sac size: 16\nShop: two\nlines"
    assert lots[2]["arrived_at"] == "2025-04-03T12:00:00.000Z"
    assert lots[4]["note"].endswith("Shop: =fair")
    assert [lot["place"] for lot in lots] == ["A3", "A4", "A3", "B9", "A4"]


def test_applying_twice_or_again_under_its_key_is_harmless(stocked: Api) -> None:
    """A repeat with the key has the first answer; another apply is told what was done; no more."""
    sent = send(stocked, "lots", PLAIN_LOTS.replace("B1", "A3"))
    path = f"/v1/imports/{sent.body['id']}"
    first = stocked.post(f"{path}/apply", Idempotency_Key="k1")
    again = stocked.post(f"{path}/apply", Idempotency_Key="k1")
    assert (first.status, again.status, again.body) == (200, 200, first.body)
    other = stocked.post(f"{path}/apply")
    assert other.status == 409
    assert "applied already: 2 lots, 14 pieces" in other.body["detail"]
    assert other.body["errors"][0]["group"] == first.body["group"]
    assert len(stocked.get("/v1/lots").body["lots"]) == 2
    same = send(stocked, "lots", PLAIN_LOTS.replace("B1", "A3"))
    assert told(same.body) == [(None, None, f"this very file was applied as import {2}")]
    meant = stocked.patch(f"/v1/imports/{same.body['id']}", {"again": True})
    assert meant.body["state"] == "checked"


@pytest.mark.parametrize(
    "place", [faults.AFTER_ROWS_ARRIVED, faults.AFTER_KEY_CLAIMED, faults.BEFORE_COMMIT]
)
def test_a_failure_while_applying_leaves_nothing(stocked: Api, place: str) -> None:
    """Wherever it fails, there is no lot, no drawer and no movement, and a repeat does it all."""
    sent = send(stocked, "lots", PLAIN_LOTS)
    path = f"/v1/imports/{sent.body['id']}"
    stocked.patch(path, {"create_drawers": True})

    def fail() -> None:
        raise RuntimeError(place)

    faults.arm(place, fail)
    try:
        assert stocked.post(f"{path}/apply", Idempotency_Key="k").status == 500
    finally:
        faults.disarm()
    assert stocked.get(path).body["state"] == "checked"
    assert stocked.get("/v1/lots").body["lots"] == []
    assert stocked.get("/v1/movements").body["movements"] == []
    assert len(stocked.get("/v1/drawers").body["drawers"]) == 1
    assert stocked.post(f"{path}/apply", Idempotency_Key="k").status == 200
    assert len(stocked.get("/v1/lots").body["lots"]) == 2


def test_what_changed_since_it_was_checked_stops_it(stocked: Api) -> None:
    """A file that was clean is looked through again before it counts."""
    new = "number,kind\nRING-1,o_ring\nRING-2,O-ring\n"
    sent = send(stocked, "parts", new)
    assert sent.body["state"] == "checked"
    assert stocked.post("/v1/parts", {"number": "RING-2", "kind": "o_ring"}).status == 201
    refused = stocked.post(f"/v1/imports/{sent.body['id']}/apply")
    assert refused.status == 409
    assert refused.body["errors"][0]["cell"] == "A3"
    assert stocked.get("/v1/parts/RING-1").status == 404


def test_a_number_twice_is_refused_in_the_file_and_against_the_catalogue(stocked: Api) -> None:
    """The second of two rows is told of the first; a part that is there is told as well."""
    sent = send(stocked, "parts", "number,kind\nR1,o ring\nSAC-15-STR,sac\nR1,o ring\nR2,wheel\n")
    assert told(sent.body)[:2] == [
        ("A3", "number", "there is already a part 'SAC-15-STR'"),
        ("A4", "number", "'R1' stands in row 2 already"),
    ]
    assert told(sent.body)[2] == ("B5", "kind", "'wheel' is no kind of part")
    assert "o_ring" in sent.body["problems"][2]["accepted"]


def test_a_column_that_has_to_be_there_is_told_once(stocked: Api) -> None:
    """Without a column of quantities the file has one problem, not one in each row."""
    sent = send(stocked, "lots", "part,drawer,much\nSAC-15-STR,A3,2\nSAC-16-STR,A3,2\n")
    assert told(sent.body) == [
        (None, None, "no column is taken as quantity: how many pieces"),
    ]
    mended = stocked.patch(f"/v1/imports/{sent.body['id']}", {"mapping": {"much": "quantity"}})
    assert mended.body["state"] == "checked"


@pytest.mark.parametrize(
    ("options", "pointer"),
    [
        ({"mapping": {"Nothing": "quantity"}}, "/mapping/Nothing"),
        ({"mapping": {"part": "quantitty"}}, "/mapping/part"),
        ({"mapping": {"part": "drawer", "drawer": "drawer"}}, "/mapping"),
        ({"mapping": []}, "/mapping"),
        ({"header_row": 99}, "/header_row"),
        ({"header_row": 0}, "/header_row"),
        ({"fill_down": ["Nothing"]}, "/fill_down/0"),
        ({"dates": "year_first"}, "/dates"),
        ({"colour": 1}, "/colour"),
    ],
)
def test_wrong_options_are_refused_in_their_place(
    stocked: Api, options: dict[str, Any], pointer: str
) -> None:
    """What cannot be said of a file is told with its pointer, and the file stays as it was."""
    sent = send(stocked, "lots", PLAIN_LOTS)
    path = f"/v1/imports/{sent.body['id']}"
    refused = stocked.patch(path, options)
    assert refused.status == 422
    assert refused.body["errors"][0]["pointer"] == pointer
    assert stocked.get(path).body["options"] == sent.body["options"]


def test_cells_that_look_merged_are_filled_down_when_asked(stocked: Api) -> None:
    """A drawer that stands only in the first row of its group counts for the rows below it."""
    sent = send(stocked, "lots", "Drawer\tItem\tQty\nA3\tSAC-15-STR\t1\n\tSAC-16-STR\t2\n")
    assert told(sent.body) == [("A3", "Drawer", "the cell is empty")]
    filled = stocked.patch(f"/v1/imports/{sent.body['id']}", {"fill_down": ["Drawer"]})
    assert filled.body["state"] == "checked"


def test_a_workbook_is_read_with_its_numbers_and_dates(stocked: Api) -> None:
    """Whole numbers stay whole, empty rows above keep their places, other sheets are named."""
    rows = [
        [],
        [None, "Part", "Drawer", "Qty", "OD in 64ths"],
        [None, "SAC-15-STR", "A3", 12.0, 15.5],
        [None, "SAC-16-STR", "A3", 0, 16],
    ]
    book = workbook({"stock": rows, "old": [["x"]]})
    sent = send(stocked, "lots", book)
    assert sent.status == 201, sent.text
    assert told(sent.body) == [("D4", "Qty", "must be a whole number from 1 to 1000000")]
    assert "not read: the sheets 'old'" in sent.body["notices"]
    rows[3][3] = 1
    done = bring(stocked, "lots", workbook({"stock": rows, "old": [["x"]]}), sheet="stock")
    assert done["created"]["pieces"] == 13
    assert stocked.get("/v1/lots/1").body["measured"] == {"outside_diameter": 6.151562}


def test_a_workbook_that_would_unpack_to_very_much_is_refused_unopened(stocked: Api) -> None:
    """Three hundred megabytes of nothing in a small file are told by their size."""
    bomb = workbook({"stock": [["part"]]}, **{"xl/media/x": bytes(300 * 1024 * 1024)})
    assert len(bomb) < 1024 * 1024
    refused = send(stocked, "lots", bomb)
    assert refused.status == 422
    assert "would unpack to" in refused.body["detail"]


def test_a_workbook_that_says_less_of_itself_than_it_holds_is_refused(stocked: Api) -> None:
    """What is unpacked is counted, whatever the file says of its sizes."""
    honest = workbook({"stock": [["part"]]}, **{"xl/media/x": bytes(300 * 1024 * 1024)})
    size = (300 * 1024 * 1024).to_bytes(4, "little")
    assert honest.count(size) == 2
    refused = send(stocked, "lots", honest.replace(size, (1000).to_bytes(4, "little")))
    assert refused.status == 422
    assert "would unpack to" in refused.body["detail"]


def test_without_the_extra_a_workbook_is_refused_by_name(
    stocked: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The refusal says what to install, and that .csv would do."""
    monkeypatch.setitem(sys.modules, "python_calamine", None)
    refused = send(stocked, "lots", workbook({"stock": [["part"]]}))
    assert refused.status == 422
    assert "pip install 'sparewell[xlsx]'" in refused.body["detail"]


def test_how_far_somebody_is_can_be_seen(
    stocked: Api, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A GET meanwhile tells how many rows are checked; of one who is gone it tells nothing."""
    monkeypatch.setattr(views, "SECONDS_BETWEEN_WORDS", -1)
    sent = send(stocked, "lots", PLAIN_LOTS, check="later")
    path = f"/v1/imports/{sent.body['id']}"

    def fail() -> None:
        raise RuntimeError

    faults.arm(faults.AFTER_KEY_CLAIMED, fail)
    try:
        assert stocked.post(f"{path}/check", Idempotency_Key="k").status == 500
    finally:
        faults.disarm()
    assert stocked.get(path).body["progress"] == {"doing": "checking", "done": 2, "of": 2}
    clock.now += views.PROGRESS_HOLDS
    assert stocked.get(path).body["progress"] is None


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "the file is empty"),
        (b"\xd0\xcf\x11\xe0rest", "of the old kind"),
        (b"PK\x03\x04rest", "damaged"),
        (b"%PDF-1.7", "no table"),
        (b"a,b\n\x00,c\n", "no text"),
        (b"\x81\x8d,b\n", "neither in UTF-8"),
        (b"red,blue\n1,2\n", "no header row was found"),
        (b'part,drawer,quantity\n"' + b"x" * 200_000, "cannot be read"),
    ],
)
def test_what_is_no_table_is_refused(stocked: Api, content: bytes, sentence: str) -> None:
    """Each is told why, and nothing of it is kept."""
    refused = send(stocked, "lots", content)
    assert refused.status == 422
    assert sentence in refused.body["detail"]
    assert len(stocked.get("/v1/imports").body["imports"]) == 1


def test_donors_come_in_with_what_they_have(api: Api) -> None:
    """Each kind that a donor has is a piece in it, and all pieces arrive in one group."""
    table = (
        "pen,material,has,missing,notes\n"
        'red one,celluloid,"cap, clips and nib",lever,in tin 4\n'
        "black one,hard rubber,,cap;nib,\n"
    )
    done = bring(api, "donors", table)
    assert done["created"] == {"donors": 2, "pieces": 3}
    donor = api.get("/v1/donors/DON-0001").body
    assert [(each["kind"], each["state"]) for each in donor["components"]] == [
        ("cap", "present"),
        ("clip", "present"),
        ("nib", "present"),
        ("lever", "missing"),
    ]
    lines = api.get(f"/v1/movements?group={done['group']}").body["movements"]
    assert [line["verb"] for line in lines] == ["arrived"] * 3
    wrong = send(api, "donors", 'pen,has\nblue,"cap, wheel"\n')
    assert told(wrong.body) == [("B2", "has", "'wheel' is no kind of part")]


def test_pens_come_in_with_their_readings(api: Api) -> None:
    """A pen's columns of readings become readings; a filling system is named in any way."""
    table = (
        "Pen;Filling system;Owner;Barrel bore (mm);Nipple;J-bar height\n"
        'olive;Lever filler;Ann;8,0;"6,4 mm";0.9\n'
    )
    done = bring(api, "pens", table, mapping={"J-bar height": "readings.bar_height"})
    assert done["created"] == {"pens": 1}
    pen = api.get("/v1/pens/PEN-0001").body
    assert (pen["filling_system"], pen["owner"]) == ("lever", "Ann")
    readings = {name: each["value"] for name, each in pen["readings"].items()}
    assert readings == {"barrel_bore": 8.0, "nipple_diameter": 6.4, "bar_height": 0.9}
    wrong = send(api, "pens", "Pen,Filling system,Barrel bore\nx,steam,-1\n")
    assert [each["cell"] for each in wrong.body["problems"]] == ["B2"]


def test_past_jobs_become_closed_jobs_that_the_ledger_explains(stocked: Api) -> None:
    """What was fitted years ago arrives and leaves again; its outcome stands with its pen."""
    table = (
        "Pen,Filler,Date,Part,Sac size,Result\n"
        "olive,lever,2019-05-04,SAC-15-STR,15,ok\n"
        "olive,lever,2023-05-04,SAC-16-STR,16,too tight\n"
        "grey,button,5 June 2020,,,\n"
    )
    done = bring(stocked, "jobs", table)
    assert done["created"] == {"jobs": 3, "pens": 2, "outcomes": 2, "pieces": 2}
    job = stocked.get("/v1/jobs/JOB-0001").body
    assert (job["state"], job["ended_at"]) == ("closed", "2019-05-04T12:00:00.000Z")
    lots = stocked.get("/v1/lots").body["lots"]
    assert [(lot["in_hand"], lot["label"]) for lot in lots] == [(0, "15"), (0, "16")]
    lines = stocked.get(f"/v1/movements?group={done['group']}").body["movements"]
    assert [line["verb"] for line in lines] == ["arrived", "fitted", "arrived", "fitted"]
    fitted = stocked.get("/v1/pens/PEN-0001/contents").text
    assert "SAC-16-STR" in fitted
    wrong = send(stocked, "jobs", "pen,date,part\nnobody,2999-01-01,NONE\n")
    assert [each["cell"] for each in wrong.body["problems"]] == ["B2", "C2", "A2"]


def test_a_file_is_sent_first_and_checked_later(stocked: Api) -> None:
    """With check=later it waits; it can neither be applied yet, nor after it was withdrawn."""
    sent = send(stocked, "lots", PLAIN_LOTS, check="later")
    path = f"/v1/imports/{sent.body['id']}"
    assert (sent.body["state"], sent.body["columns"]) == ("waiting", [])
    assert stocked.post(f"{path}/apply").status == 409
    checked = stocked.post(f"{path}/check")
    assert (checked.status, checked.body["state"]) == (200, "faulty")
    problems = stocked.get(f"{path}/problems?limit=1").body
    assert [each["cell"] for each in problems["problems"]] == ["B3"]
    withdrawn = stocked.post(f"{path}/withdraw").body
    assert (withdrawn["state"], withdrawn["problems"]) == ("withdrawn", [])
    for verb in ("apply", "check", "withdraw"):
        assert stocked.post(f"{path}/{verb}").status == 409
    assert [each["state"] for each in stocked.get("/v1/imports").body["imports"]] == [
        "applied",
        "withdrawn",
    ]


def test_the_body_has_a_limit_of_its_own(stocked: Api) -> None:
    """More than a request's usual megabyte is taken here, more than its own limit is not."""
    row = "SAC-15-STR,A3,10," + "x" * 1500
    large = "part,drawer,quantity,note\n" + "\n".join([row] * 900)
    assert len(large) > 1024**2
    assert send(stocked, "lots", large).body["state"] == "checked"
    assert send(stocked, "lots", b"x" * (32 * 1024**2 + 1)).status == 413
