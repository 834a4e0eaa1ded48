"""Labels of the bench page: the sheet in millimetres, and codes that a reader reads back."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any
from xml.etree import ElementTree as ET

import pytest
import zxingcpp

from conftest import Clock
from sparewell.app.factory import create_app
from sparewell.bench import label_sheet
from sparewell.bench.label_sheet import Label
from sparewell.database.engine import Database
from sparewell.edge.hosts import LOOPBACK_NAMES
from sparewell.extend.host import Declarations
from support.api import Api
from support.bench import Bench, Page

SVG = "{http://www.w3.org/2000/svg}"
SQUARE_PIXELS = 8
SHEET = {
    "page_width": "210",
    "page_height": "297",
    "label_width": "63.5 mm",
    "label_height": "38,1",
    "left": "7.2",
    "top": "15.1",
    "gap_across": "2.5",
    "gap_down": "0",
    "columns": "3",
    "rows": "7",
}


def sheet_page(bench: Bench, **typed: Any) -> Page:
    """Fill in the form of labels and go on to the sheet."""
    return bench.send(bench.get("/labels"), "/labels", "Show the sheet", **SHEET | typed)


def drawings(page: Page) -> list[ET.Element]:
    """The sheets of a page, as drawings."""
    found = re.findall(
        r'<svg class="sheet".*?</svg>\s*(?=<svg class="sheet"|</main>)', page.html, re.DOTALL
    )
    return [ET.fromstring(text) for text in found]  # noqa: S314 - our own page


def labels_on(sheet: ET.Element) -> list[ET.Element]:
    """The labels of a sheet."""
    return sheet.findall(f"{SVG}svg")


def read_code(label: ET.Element) -> str:
    """What a reader that is none of ours sees in the code of a label."""
    drawing = label.find(f"{SVG}a/{SVG}svg")
    assert drawing is not None
    path = drawing.find(f"{SVG}path")
    assert path is not None
    return decode(path.attrib["d"], int(drawing.attrib["viewBox"].split()[2]))


def decode(path: str, squares: int) -> str:
    """Paint a path of squares as pixels, black on white, and read it."""
    edge = squares * SQUARE_PIXELS
    pixels = bytearray(b"\xff" * edge * edge)
    runs = re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", path)
    assert "".join(f"M{x} {y}h{a}v1h-{b}z" for x, y, a, b in runs) == path
    for x, y, run, _ in runs:
        for line in range(int(y) * SQUARE_PIXELS, (int(y) + 1) * SQUARE_PIXELS):
            start = line * edge + int(x) * SQUARE_PIXELS
            pixels[start : start + int(run) * SQUARE_PIXELS] = bytes(int(run) * SQUARE_PIXELS)
    image = memoryview(pixels).cast("B", (edge, edge))
    (code,) = zxingcpp.read_barcodes(image)
    assert "QR" in str(code.format)
    return str(code.text)


@pytest.mark.parametrize(
    "address",
    ["http://bench.local:8417/drawers/A3", "http://192.168.178.20:8417/bags/1234567", "x" * 300],
)
def test_a_code_reads_back_as_its_address(address: str) -> None:
    """An independent reader sees in the path what was written into it."""
    assert decode(*label_sheet.code_of(address)) == address


def test_labels_open_their_pages_where_the_browser_is(bench: Bench, api: Api) -> None:
    """Drawer, bag and donor: each code is the address of its page, at the host that was asked."""
    lot = api.stock()["id"]
    donor = api.post("/v1/donors", {"called": "red", "materials": ["celluloid"]}).body["number"]
    page = sheet_page(bench, drawer=["A3"], bags=str(lot), donor=[donor])
    assert page.status == 200
    (sheet,) = drawings(page)
    expected = [f"http://localhost/{each}" for each in ("drawers/A3", f"bags/{lot}")]
    read = [read_code(label) for label in labels_on(sheet)]
    assert read == [*expected, f"http://localhost/donors/{donor}"]
    for address in read:
        assert bench.get(address.removeprefix("http://localhost")).status == 200


def test_another_name_of_the_server_makes_another_code(
    api: Api, token_of: Callable[[str], str]
) -> None:
    """The address is the one by which this browser called the server."""
    api.stock()
    elsewhere = Bench(api.app, token_of("read"), host="127.0.0.1:8417")
    (label,) = labels_on(drawings(sheet_page(elsewhere, drawer=["A3"]))[0])
    assert read_code(label) == "http://127.0.0.1:8417/drawers/A3"


def test_a_code_of_a_strange_drawer_is_escaped(bench: Bench, api: Api) -> None:
    """A space and an umlaut come back as the drawer they stand for."""
    api.post("/v1/drawers", {"code": "Ö 1"})
    (sheet,) = drawings(sheet_page(bench, drawer=["Ö 1"]))
    address = read_code(labels_on(sheet)[0])
    assert address == "http://localhost/drawers/%C3%96%201"
    assert "Ö 1" in bench.get(address.removeprefix("http://localhost")).text


def test_all_bags_of_a_drawer_are_labelled(bench: Bench, api: Api) -> None:
    """Each bag that holds something, with its part, its measure and how long it is good."""
    first, second = api.stock(made_on="2026")["id"], api.stock(made_on="2026")["id"]
    spent = api.stock(quantity=1)["id"]
    api.post(f"/v1/lots/{spent}/discard", {"quantity": 1})
    page = sheet_page(bench, bags_of=["A3"])
    (sheet,) = drawings(page)
    read = [read_code(label) for label in labels_on(sheet)]
    assert read == [f"http://localhost/bags/{each}" for each in (first, second)]
    words = " ".join("".join(text.itertext()) for text in labels_on(sheet)[0].iter(f"{SVG}text"))
    assert "SAC-15-STR" in words
    assert "5.9 mm" in words
    assert "fit by 1 Jan 2031" in words.replace("\N{NO-BREAK SPACE}", " ")


def test_the_sheet_is_drawn_in_millimetres(bench: Bench, api: Api) -> None:
    """Each label lies where the sheet has it: margin, width and gap, column by column."""
    for number in range(4):
        api.post("/v1/drawers", {"code": f"D{number}"})
    page = sheet_page(bench, drawer=["D0", "D1", "D2", "D3"])
    (sheet,) = drawings(page)
    assert (sheet.attrib["width"], sheet.attrib["height"]) == ("210.0mm", "297.0mm")
    assert sheet.attrib["viewBox"] == "0 0 210.0 297.0"
    places = [(float(each.attrib["x"]), float(each.attrib["y"])) for each in labels_on(sheet)]
    assert places == [(7.2, 15.1), (73.2, 15.1), (139.2, 15.1), (7.2, 53.2)]
    assert {each.attrib["width"] for each in labels_on(sheet)} == {"63.5"}
    style = re.search(r'href="(/labels/page.css[^"]*)"', page.html)
    assert style
    printed = bench.get(style[1].replace("&amp;", "&"))
    assert printed.headers["Content-Type"].startswith("text/css")
    assert printed.html == "@page { size: 210mm 297mm; margin: 0 }\n"


def test_a_half_used_sheet_is_gone_on_with(bench: Bench, api: Api) -> None:
    """The first label goes to the place that was said, and what is too much onto a second sheet."""
    for number in range(3):
        api.post("/v1/drawers", {"code": f"D{number}"})
    page = sheet_page(bench, drawer=["D0", "D1", "D2"], start="20")
    first, second = drawings(page)
    assert [float(each.attrib["x"]) for each in labels_on(first)] == [73.2, 139.2]
    assert [read_code(each)[-2:] for each in labels_on(second)] == ["D2"]
    assert float(labels_on(second)[0].attrib["x"]) == 7.2


def test_the_sheet_is_remembered_in_the_browser(bench: Bench, api: Api) -> None:
    """Next time its measures stand there as they were typed."""
    api.stock()
    sheet_page(bench, drawer=["A3"])
    form = bench.get("/labels?bag=7").form("/labels")
    assert {name: form[name] for name in SHEET} == SHEET
    assert form["bags"] == "7"


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("columns", "4", "reach 268.7 mm, and the page ends at 210 mm"),
        ("rows", "8", "the page ends at 297 mm"),
        ("label_width", "wide", "wide"),
        ("label_height", "0", "0"),
        ("gap_across", "-1", "-1"),
        ("rows", "none", "whole number from 1 to 100"),
        ("start", "22", "whole number from 1 to 21"),
        ("bags", "seven", "numbers of bags"),
    ],
)
def test_a_sheet_that_cannot_be_is_told_at_its_field(
    bench: Bench, api: Api, field: str, typed: str, said: str
) -> None:
    """The fault stands there, and the ticks and all other measures are kept."""
    api.stock()
    page = sheet_page(bench, **{"drawer": ["A3"], "bags": "1", field: typed})
    assert page.status == 422
    assert said in page.faults[field]
    kept = {name: page.form("/labels")[name] for name in SHEET}
    assert kept == {name: typed if name == field else value for name, value in SHEET.items()}
    assert page.form("/labels")["drawer"] == "A3"


def test_nothing_chosen_is_said(bench: Bench) -> None:
    """An empty sheet is not printed."""
    page = sheet_page(bench)
    assert (page.status, page.problems) == (422, ["choose what to label"])


def test_a_bag_that_is_not_there_is_said(bench: Bench) -> None:
    """A number that no bag has prints nothing."""
    page = sheet_page(bench, bags="99")
    assert page.status == 404
    assert any("99" in each for each in page.problems)


@pytest.mark.parametrize(
    ("host", "is_warned"),
    [("localhost", True), ("127.0.0.1:8417", True), ("bench.local", False)],
)
def test_a_name_that_no_phone_can_open_is_warned_of(
    database: Database,
    declared: Declarations,
    token_of: Callable[[str], str],
    clock: Clock,
    host: str,
    is_warned: bool,  # noqa: FBT001 - a case of the table
) -> None:
    """Loopback by name or number means the machine that asks; a name of the house does not."""
    names = LOOPBACK_NAMES | {"bench.local"}
    app = create_app(database, declared, clock=clock, host_names=names)
    text = Bench(app, token_of("read"), host=host).get("/labels").text
    assert f"at {host} ." in text
    assert ("No phone can open" in text) == is_warned


def test_a_code_too_small_to_read_is_warned_of(bench: Bench, api: Api) -> None:
    """Tiny labels are printed, with a word of warning on the screen."""
    api.stock()
    tiny = {"label_width": "20", "label_height": "8", "left": "0"}
    assert "a phone may not read them" in sheet_page(bench, drawer=["A3"], **tiny).text
    assert "a phone may not read them" not in sheet_page(bench, drawer=["A3"]).text


def test_no_word_runs_over_the_edge_of_its_label() -> None:
    """A long name becomes small, a long line is broken, and what has no room is left out."""
    sheet, faults = label_sheet.read_sheet(SHEET)
    assert sheet is not None, faults
    label = Label("SAC-15-STRAIGHT-THIN-WALLED", ["a long note " * 9] * 4, "http://x/drawers/A3")
    ((placed,),) = label_sheet.sheets(sheet, [label], 1)
    room = sheet.label_width - label_sheet.text_left(sheet)
    assert all(len(each.said) * each.size * 0.5 < room for each in placed.texts)
    assert all(each.y <= sheet.label_height for each in placed.texts)
    assert placed.texts[0].said == label.heading
