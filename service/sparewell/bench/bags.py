"""One bag: what it is, what happened to it, who has it promised, and what can be done with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from flask import abort, request
from sqlalchemy import select

from sparewell.bench.pages import Shown, blueprint, or_form_again, refuse_late, see, show
from sparewell.bench.pieces import (
    ages_of,
    drawer_choices,
    events_of,
    name_of_lot,
    promises_in_the_way,
    title_of,
    titles_of_dimensions,
    way_back,
)
from sparewell.bench.typed import Typed, row_of, tag_of, whole_or_text
from sparewell.bench.wording import money
from sparewell.database.numbers import DONOR_PREFIX, JOB_PREFIX, number_of
from sparewell.database.transaction import locked
from sparewell.edge.beforehand import beforehand, found_beforehand
from sparewell.edge.context import work
from sparewell.edge.description import read_path
from sparewell.edge.errors import checked
from sparewell.edge.fields import Money
from sparewell.edge.schema import Schema
from sparewell.extend.declarations import PartKind
from sparewell.handling import conversions
from sparewell.handling import operations as handling
from sparewell.handling.schemas import (
    CountSchema,
    CutSchema,
    DiscardSchema,
    MoveSchema,
    PutBackSchema,
)
from sparewell.ledger.tables import Movement
from sparewell.lots import operations as lots
from sparewell.lots.ageing import over_age
from sparewell.lots.claims import basis
from sparewell.lots.doubts import doubts_of
from sparewell.lots.schemas import ChangedLotSchema, LotDescription
from sparewell.lots.tables import Lot
from sparewell.measure.wording import millimetres_text
from sparewell.plans import undoing
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

CONDITIONS_PUT_BACK: Final = (
    ("used", "used"),
    ("as new", "as new, not used after all"),
    ("cut", "cut"),
)
_NOT_FOUND = 404
# What a bag says of itself, as the description of a lot asks for it.
_ASKED: Final = {name: each for name, each in LotDescription.described.items() if each.asked}
_YES = "yes"


@dataclass(frozen=True)
class BagAct:
    """Something done with a bag: how its form is read, and what does it.

    It returns the bag that lies there afterwards.
    """

    schema: type[Schema]
    do: Callable[[Lot, dict[str, Any]], Lot]
    said: str
    texts: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    takes_release: bool = True

    def body(self, form: Typed) -> dict[str, Any]:
        """Return what a form stands for; what was left empty is left out."""
        body: dict[str, Any] = form.filled("note", *self.texts) | form.whole(*self.numbers)
        if form["keep_offcut"]:
            body["keep_offcut"] = form["keep_offcut"] == _YES
        release = [whole_or_text(each) for each in request.form.getlist("release")]
        return body | ({"release": release} if release and self.takes_release else {})


def _move(lot: Lot, body: dict[str, Any]) -> Lot:
    return handling.move(work(), lot, quantity=body.pop("quantity", None), **body)


def _cut(lot: Lot, body: dict[str, Any]) -> Lot:
    return conversions.cut(work(), lot, **body).made[0]


def _put_back(lot: Lot, body: dict[str, Any]) -> Lot:
    return conversions.put_back(work(), lot, body.pop("reservation"), **body).made[0]


ACTS: Final[Mapping[str, BagAct]] = {
    "move": BagAct(MoveSchema, _move, "moved", ("drawer",), ("quantity",)),
    "count": BagAct(
        CountSchema,
        lambda lot, body: handling.count(work(), lot, **body),
        "counted",
        numbers=("counted",),
    ),
    "discard": BagAct(
        DiscardSchema,
        lambda lot, body: handling.discard(work(), lot, **body),
        "discarded",
        numbers=("quantity",),
    ),
    "cut": BagAct(CutSchema, _cut, "cut", ("length", "keep_offcut"), ("quantity",)),
    "put-back": BagAct(
        PutBackSchema,
        _put_back,
        "put-back",
        ("condition", "length"),
        ("reservation", "quantity"),
        takes_release=False,
    ),
}


@blueprint.get("/bags/<row:bag>")
def bag_page(bag: int) -> Shown:
    """Show one bag."""
    return _bag_page(bag, "", Typed({}))


def _bag_page(bag: int, act: str, form: Typed) -> tuple[str, int]:
    session = work().session
    lot = lots.find_lot(session, bag)
    kind, age = work().declared.kinds.get(lot.kind), ages_of([lot])[lot.id]
    held = select(Reservation).where(Reservation.lot_id == bag).order_by(Reservation.id)
    reservations = [(number_of(JOB_PREFIX, row.job_id), row) for row in session.scalars(held)]
    ledger = select(Movement).where(Movement.lot_id == bag).order_by(Movement.id)
    page = show(
        "bag.html",
        bag=lot,
        age=age,
        over_age=over_age(lot, age, work().now.date()),
        doubts=doubts_of(kind, lot, age),
        donor=number_of(DONOR_PREFIX, lot.donor_id) if lot.donor_id else None,
        said_of_it=_said_of(lot),
        asked_of_it=_ASKED,
        tag=_tag(lot),
        title=name_of_lot(lot),
        kind_title=title_of(lot.kind),
        measured=_measured(lot, kind),
        attributes=_attributes(lot, kind),
        promised=[each for each in reservations if each[1].promised],
        used=[(row.id, f"{job}: {row.used} used") for job, row in reservations if row.used],
        conditions=CONDITIONS_PUT_BACK,
        events=events_of(session.scalars(ledger).unique().all()),
        drawers=[each for each in drawer_choices() if each[0] != lot.place.code],
        may_be_cut=kind is not None and any(each.name == "length" for each in kind.dimensions),
        act=act,
        form=form,
        promises=promises_in_the_way(form.problems),
        to_release=request.form.getlist("release"),
    )
    return page, form.status


@dataclass(frozen=True)
class MeasuredDimension:
    """A dimension of a bag: what is known of it, how, and how it was typed."""

    name: str
    title: str
    said: str
    is_measured: bool
    entered: str
    how: str


def _measured(lot: Lot, kind: PartKind | None) -> list[MeasuredDimension]:
    """Return every dimension of the kind."""
    known, on_what = lot.dimensions, basis(lot)
    titles = titles_of_dimensions(kind) if kind else [(name, name) for name in known]
    return [
        MeasuredDimension(
            name,
            title,
            millimetres_text(known[name]) if name in known else "",
            on_what.get(name) == "measured",
            lot.measured.get(name, ""),
            _how(lot.measured_how.get(name, {})),
        )
        for name, title in titles
    ]


def _how(how: Mapping[str, Any]) -> str:
    """Return "± 0.01 mm, micrometer", as far as it is known."""
    spread = how.get("spread_nanometres")
    said = "" if spread is None else f"± {millimetres_text(spread)}"
    return ", ".join(each for each in (said, how.get("instrument")) if each)


def _attributes(lot: Lot, kind: PartKind | None) -> list[tuple[str, object]]:
    titles = {each.name: each.title for each in kind.attributes} if kind else {}
    return [(titles.get(name, name), value) for name, value in lot.attributes.items()]


def _said_of(lot: Lot) -> dict[str, str]:
    """Return what a bag says of itself, as the fields of its form hold it."""
    kept = {name: (each, read_path(lot, each.path or name)) for name, each in _ASKED.items()}
    return {
        name: money(value) if isinstance(each.field, Money) else value or ""
        for name, (each, value) in kept.items()
    }


def _tag(lot: Lot) -> str:
    return tag_of(sorted(_said_of(lot).items()), sorted(lot.measured.items()), lot.in_hand)


@blueprint.post("/bags/<row:bag>/<identifier:act>")
def act_on_bag(bag: int, act: str) -> Shown:
    """Do something with a bag, and show what came of it."""
    if act not in ACTS:
        abort(_NOT_FOUND)
    prefix, asked = f"{act}-", ACTS[act]
    sent = {name: text for name, text in request.form.items() if name.startswith(prefix)}
    form = Typed({name.removeprefix(prefix): text for name, text in sent.items()})
    with or_form_again(partial(_bag_page, bag, act), form):
        lot = lots.find_lot(work().session, bag)
        there = asked.do(lot, checked(asked.schema(), asked.body(form))).id
    is_ours = (Movement.lot_id == bag, Movement.verb == asked.said)
    return see(f"/bags/{there}", said=asked.said, undo=way_back(*is_ours))


def _to_undo(reading: Work, bag: int) -> undoing.Undoing | None:  # noqa: ARG001 - of the address
    return undoing.prepare(reading, row_of(request.form.get("group", "")))


@blueprint.post("/bags/<row:bag>/undo")
@beforehand(_to_undo)
def undo_on_bag(bag: int) -> Shown:
    """Undo what happened to a bag, as far as the ledger allows."""
    form = Typed(request.form)
    with or_form_again(partial(_bag_page, bag, "undo"), form, lambda _: {}):
        undoing.undo(work(), found_beforehand(), row_of(form["group"]))
    return see(f"/bags/{bag}", said="undone")


@blueprint.post("/bags/<row:bag>/says")
def change_bag(bag: int) -> Shown:
    """Note what was measured on a bag, or what it says of itself."""
    form, page = Typed(request.form), partial(_bag_page, bag, "says")
    lot = locked(work().session, lots.find_lot(work().session, bag))
    refuse_late(page, form, _tag(lot))
    was = _said_of(lot)
    body: dict[str, Any] = {
        name: form[name] or _emptied(name)
        for name in _ASKED
        if name in form.values and form[name] != was[name]
    }
    measured = {
        name.removeprefix("measured/"): typed or None
        for name, typed in form.values.items()
        if name.startswith("measured/")
        and typed != lot.measured.get(name.removeprefix("measured/"), "")
    }
    with or_form_again(page, form):
        changes = checked(ChangedLotSchema(), body | ({"measured": measured} if measured else {}))
        handling.change_lot(work(), lot, changes)
    return see(f"/bags/{bag}", said="changed")


def _emptied(name: str) -> str | None:
    """Return what stands for nothing in a field of a bag."""
    return {"note": "", "made_on": "unknown"}.get(name)
