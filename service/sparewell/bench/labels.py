"""Labels for drawers, bags and donors: which ones, on which sheet, and the sheet to print."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, TypeVar
from urllib.parse import parse_qsl, quote, urlencode

from flask import Response, request
from sqlalchemy import select
from sqlalchemy.orm import lazyload
from werkzeug.datastructures import MultiDict

from sparewell.bench import label_sheet
from sparewell.bench.label_sheet import COUNTS, LENGTHS, Label, LabelSheet
from sparewell.bench.pages import Shown, blueprint, refuse, see, show
from sparewell.bench.pieces import ages_of, drawer_choices, measures, name_of_lot
from sparewell.bench.typed import Typed, is_number, whole_or_text
from sparewell.bench.wording import day
from sparewell.database.numbers import DONOR_PREFIX, id_of, number_of
from sparewell.donors.tables import Donor
from sparewell.edge.context import work
from sparewell.edge.hosts import LOOPBACK_NAMES, name_of
from sparewell.edge.scopes import scope
from sparewell.errors import NotFound
from sparewell.lots.ageing import FitBy
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place, PlaceType

Row = TypeVar("Row")

SHEET_COOKIE: Final = "sparewell_label_sheet"
LONGEST_COOKIE: Final = 500
MOST_LABELS: Final = 500
_A_YEAR_SECONDS = 365 * 24 * 3600
_UNPROCESSABLE = 422
_SHEET = tuple(name for name, _, _ in (*LENGTHS, *COUNTS))
_USUAL: Final[Mapping[str, str]] = {name: usual for name, _, usual in (*LENGTHS, *COUNTS)}
_CHOSEN = ("drawer", "bags_of", "donor")


@blueprint.get("/labels")
def labels_page() -> Shown:
    """Ask what to label, and on which sheet."""
    remembered = request.cookies.get(SHEET_COOKIE, "")[:LONGEST_COOKIE]
    kept = {name: text for name, text in parse_qsl(remembered) if name in _SHEET}
    start = request.args.get("start", "1")
    asked = {"bags": " ".join(request.args.getlist("bag")), "start": start}
    return _labels_page(Typed({**_USUAL, **kept, **asked}), request.args)


def _labels_page(form: Typed, chosen: MultiDict[str, str]) -> tuple[str, int]:
    kept = work().session.execute(select(Donor.id, Donor.called).order_by(Donor.id))
    page = show(
        "labels.html",
        form=form,
        drawers=drawer_choices(),
        donors=[(number_of(DONOR_PREFIX, row), called) for row, called in kept],
        chosen={name: chosen.getlist(name) for name in _CHOSEN},
        lengths=LENGTHS,
        counts=COUNTS,
        is_sheet_at_fault=any(name in form.faults for name in _SHEET),
        host=request.host,
        is_out_of_reach=name_of(request.host) in LOOPBACK_NAMES,
    )
    return page, form.status


@blueprint.post("/labels")
@scope("read")
def choose_labels() -> Shown:
    """Remember the sheet in this browser, and go on to what is printed."""
    form = Typed(request.form)
    sheet, faults = label_sheet.read_sheet(form.values)
    if sheet is not None:
        faults = _start_fault(form, sheet)
    bags = form["bags"].replace(",", " ").split()
    if not all(each.isascii() and each.isdecimal() for each in bags):
        faults["bags"] = "give the numbers of bags, such as 12 15"
    chosen = [(name, code) for name in _CHOSEN for code in request.form.getlist(name)]
    if not chosen and not bags:
        faults["chosen"] = "choose what to label"
    if faults:
        refuse(lambda faulty: _labels_page(faulty, request.form), form, faults)
    query = [*chosen, *(("bag", each) for each in bags), ("start", form["start"] or "1")]
    geometry = [(name, form[name]) for name in _SHEET]
    response = see(f"/labels/sheet?{urlencode([*query, *geometry])}")
    response.set_cookie(
        SHEET_COOKIE,
        urlencode(geometry),
        max_age=_A_YEAR_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=request.is_secure,
    )
    return response


def _start_fault(form: Typed, sheet: LabelSheet) -> dict[str, str]:
    most, text = sheet.columns * sheet.rows, form["start"] or "1"
    if text.isascii() and text.isdecimal() and 1 <= int(text[:6]) <= most:
        return {}
    return {"start": f"must be a whole number from 1 to {most}, which the sheet has"}


@blueprint.get("/labels/sheet")
def sheet_page() -> Shown:
    """Show the sheets as they are printed, to scale."""
    form = Typed(request.args)
    sheet, faults = label_sheet.read_sheet(form.values)
    if sheet is not None:
        faults = _start_fault(form, sheet)
    if sheet is None or faults:
        return _labels_page(form.with_faults(faults, _UNPROCESSABLE), request.args)
    labels = _chosen_labels()
    return show(
        "label_sheet.html",
        sheet=sheet,
        sheets=label_sheet.sheets(sheet, labels[:MOST_LABELS], int(form["start"] or "1")),
        text_left=label_sheet.text_left(sheet),
        padding=label_sheet.PADDING_MILLIMETRES,
        left_out=max(0, len(labels) - MOST_LABELS),
        is_too_small=any(
            not label_sheet.is_code_readable(sheet, each.address) for each in labels[:MOST_LABELS]
        ),
        page_address=f"/labels/page.css?{urlencode({n: form[n] for n in _SHEET})}",
        back=f"/labels?{request.query_string.decode()}",
    )


@blueprint.get("/labels/page.css")
def page_style() -> Response:
    """Tell the printer how large the page is: only a style can, and only a file of ours may."""
    sheet, _ = label_sheet.read_sheet(request.args)
    size = f"size: {sheet.page_width:g}mm {sheet.page_height:g}mm; " if sheet else ""
    return Response(f"@page {{ {size}margin: 0 }}\n", content_type="text/css; charset=utf-8")


def _chosen_labels() -> list[Label]:
    """Return the labels in the order they are asked for; what is not there is refused."""
    session = work().session
    asked = {name: request.args.getlist(name) for name in (*_CHOSEN, "bag")}
    codes = {each for each in (*asked["drawer"], *asked["bags_of"]) if is_number(each)}
    named = select(Place).where(Place.type == PlaceType.DRAWER, Place.code.in_(codes))
    drawers = {place.code: place for place in session.scalars(named)}
    labels = [_of_drawer(_found(drawers, code, "drawer")) for code in asked["drawer"]]
    of_drawers = [_found(drawers, code, "drawer").id for code in asked["bags_of"]]
    numbers = [whole_or_text(each) for each in asked["bag"]]
    wanted = [each for each in numbers if isinstance(each, int)]
    chosen = select(Lot).where(
        Lot.id.in_(wanted) | (Lot.place_id.in_(of_drawers) & (Lot.in_hand > 0))
    )
    bags = {lot.id: lot for lot in session.scalars(chosen.order_by(Lot.id)).unique()}
    ages = ages_of(bags.values())
    for drawer in of_drawers:
        within = [bag for bag in bags.values() if bag.place_id == drawer and bag.in_hand]
        labels += [_of_bag(bag, ages[bag.id]) for bag in within]
    for number in numbers:
        bag = _found(bags, number, "bag")
        labels.append(_of_bag(bag, ages[bag.id]))
    rows = select(Donor).options(lazyload(Donor.components))
    rows = rows.where(Donor.id.in_(id_of(DONOR_PREFIX, each) for each in asked["donor"]))
    kept = {row.number: row for row in session.scalars(rows)}
    return [*labels, *(_of_donor(_found(kept, each, "donor")) for each in asked["donor"])]


def _found(there: Mapping[Any, Row], key: object, what: str) -> Row:
    """Return one of those that there are. Raises :class:`NotFound`."""
    if key not in there:
        raise NotFound(f"there is no {what} {key!r}")
    return there[key]


def _page_of(*steps: str | int) -> str:
    """Return the address of a page as a phone opens it: the one by which this browser asked."""
    return request.host_url + "/".join(quote(str(step), safe="") for step in steps)


def _of_drawer(drawer: Place) -> Label:
    return Label(drawer.code, [drawer.note], _page_of("drawers", drawer.code))


def _of_donor(donor: Donor) -> Label:
    lines = [donor.called, ", ".join(donor.materials) or "material not known"]
    return Label(donor.number, lines, _page_of("donors", donor.number))


def _of_bag(lot: Lot, age: FitBy) -> Label:
    lines = [
        measures(lot).removesuffix(", measured"),
        lot.material or "material not known",
        _unbroken(f"fit by {day(age.day)}") if age.day else "",
        _unbroken(f"bag {lot.id}"),
    ]
    return Label(name_of_lot(lot), [line for line in lines if line], _page_of("bags", lot.id))


def _unbroken(said: str) -> str:
    return said.replace(" ", "\N{NO-BREAK SPACE}")
