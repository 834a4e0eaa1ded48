"""Receiving a parcel: which part and which drawer, then the numbers; bag after bag."""

from __future__ import annotations

from flask import request
from sqlalchemy import select

from sparewell.bench.pages import Shown, blueprint, or_form_again, refuse, see, show
from sparewell.bench.pieces import (
    ages_of,
    choices_of_kinds,
    drawer_choices,
    title_of,
    titles_of_dimensions,
)
from sparewell.bench.typed import Typed, by_field, is_number, row_of
from sparewell.catalogue.operations import NewPart, create_part
from sparewell.catalogue.schemas import NewPartSchema
from sparewell.catalogue.tables import Part
from sparewell.edge.context import work
from sparewell.edge.errors import checked
from sparewell.errors import Refusal
from sparewell.handling import operations as handling
from sparewell.lots import operations as lots
from sparewell.lots.doubts import doubts_of
from sparewell.lots.schemas import NewLotSchema
from sparewell.lots.tables import Lot
from sparewell.measure.wording import millimetres_text

_UNPROCESSABLE = 422
_MEASURED = "measured/"


@blueprint.get("/receive")
def receive_page() -> Shown:
    """Ask which part came; once it is known, ask for its numbers."""
    form = Typed(request.args)
    if not form["part"]:
        return _which_page(form)
    return _numbers_page(form)


def _which_page(form: Typed) -> tuple[str, int]:
    """Ask which part came, and into which drawer it goes."""
    put_away = row_of(form["bag"])
    parts = select(Part.number, Part.name).order_by(Part.id)
    page = show(
        "receive_which.html",
        form=form,
        parts=work().session.execute(parts).all(),
        drawers=drawer_choices(),
        kinds=choices_of_kinds(),
        put_away=put_away,
        doubts=_doubts(put_away),
    )
    return page, form.status


def _doubts(bag: int) -> list[str]:
    """Return what is odd about the bag just put away."""
    lot = work().session.get(Lot, bag) if bag else None
    return doubts_of(work().declared.kinds.get(lot.kind), lot, ages_of([lot])[bag]) if lot else []


def _known_part(number: str) -> Part | None:
    if not is_number(number):
        return None
    return work().session.scalar(select(Part).where(Part.number == number))


def _numbers_page(form: Typed) -> tuple[str, int]:
    """Ask for what is counted, measured and read off the packet."""
    part = _known_part(form["part"])
    kind = work().declared.kinds.get(part.kind if part else form["kind"])
    if kind is None:
        unknown = {"kind": f"{form['part']} is not in the catalogue yet: say what it is"}
        if part is not None:
            unknown = {"part": f"no plugin here knows {part.kind}, so none can be taken in"}
        return _which_page(form.with_faults(unknown, _UNPROCESSABLE))
    (lead, lead_title), *others = titles_of_dimensions(kind)
    page = show(
        "receive.html",
        form=form,
        part=part,
        kind=kind,
        kind_title=title_of(kind.name),
        lead=(f"{_MEASURED}{lead}", lead_title, _nominal(part, lead)),
        others=[(f"{_MEASURED}{name}", title, _nominal(part, name)) for name, title in others],
        materials=kind.materials,
        drawers=drawer_choices(),
    )
    return page, form.status


def _nominal(part: Part | None, dimension: str) -> str:
    """Return what the catalogue says of a dimension."""
    value = part.dimensions.get(dimension) if part else None
    return "" if value is None else f"catalogued as {millimetres_text(value)}"


@blueprint.post("/receive")
def receive() -> Shown:
    """Put a bag away, and offer the next one of the same parcel."""
    form = Typed(request.form)
    if not form["part"]:
        refuse(_which_page, form, {"part": "say which part came"})
    if _known_part(form["part"]) is None:
        with or_form_again(_which_page, form, _of_part):
            new = {"number": form["part"], **form.filled("kind", "name", "material")}
            create_part(work(), NewPart.said(checked(NewPartSchema(), new)))
    with or_form_again(_numbers_page, form):
        body = form.filled("part", "drawer", "label", "material", "made_on", "cost", "note")
        body |= form.whole("quantity") | {"measured": form.of(_MEASURED)}
        lot = handling.arrive(work(), lots.NewLot.said(checked(NewLotSchema(), body)))
    return see("/receive", said="received", drawer=lot.place.code, bag=lot.id)


def _of_part(refusal: Refusal) -> dict[str, str]:
    places = {"number": "part"}
    return {places.get(name, name): said for name, said in by_field(refusal).items()}
