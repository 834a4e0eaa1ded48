"""Lots: what is said of them and what is measured on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, lazyload

from sparewell.catalogue.operations import (
    checked_dimensions,
    contradiction,
    find_part,
    kind_named,
    known_material,
    refuse_contradictions,
    set_dimensions,
)
from sparewell.catalogue.tables import Part, column_of
from sparewell.edge.description import NewThing, Split
from sparewell.errors import Impossible, NotFound, Problem
from sparewell.extend.declarations import PartKind
from sparewell.extend.values import ValueRefused, read_value
from sparewell.lots.claims import basis, claimed, derived, how_measured
from sparewell.lots.conditions import Confidence
from sparewell.lots.schemas import LotDescription
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.entered import EnteredLength
from sparewell.measure.made_on import MadeOn
from sparewell.places.operations import drawer_named
from sparewell.work import Work


@dataclass(frozen=True)
class NewLot(NewThing):
    """What is said of pieces that came together."""

    part: str = ""
    drawer: str = ""
    quantity: int = 1
    measured: Mapping[str, EnteredLength] = field(default_factory=dict)
    attributes: Mapping[str, Any] = field(default_factory=dict)
    material: str | None = None
    material_confidence: str | None = None
    made_on: MadeOn | None = None
    cost: int | None = None
    label: str | None = None
    note: str = ""


def find_lot(session: Session, lot_id: int) -> Lot:
    """Return a lot by its id. Raises :class:`NotFound`."""
    lot = session.get(Lot, lot_id)
    if lot is None:
        raise NotFound(f"there is no bag {lot_id}")
    return lot


def unrecorded_lot(work: Work, new: NewLot) -> Lot:
    """Make a lot, which :func:`record_arrival` has to be told of. Raises :class:`Impossible`."""
    try:
        part = find_part(work.session, new.part)
    except NotFound as error:
        raise Impossible.at("/part", f"{error.detail}; POST /v1/parts makes one") from error
    place = drawer_named(work.session, new.drawer)
    lot = described_lot(work, part, new)
    lot.place = place
    work.session.add(lot)
    work.session.flush()
    return lot


def described_lot(
    work: Work, of: Part | PartKind, new: NewLot, pointer: str = "", **columns: Any
) -> Lot:
    """Return pieces of a part, or of a kind alone, as they are described; every lot begins here.

    They lie nowhere yet. `columns` stand against what is described. Raises :class:`Impossible`.
    """
    part = of if isinstance(of, Part) else None
    kind = of if isinstance(of, PartKind) else kind_named(work.declared, of.kind, "/part")
    material = known_material(kind, new.material)
    if part is not None and not new.material:
        material = part.material
    sureness = Confidence.LABEL if material else Confidence.UNKNOWN
    lot = Lot(
        kind=kind.name,
        part=part,
        material=material,
        material_confidence=new.material_confidence or sureness,
        label=new.label,
        note=new.note,
        arrived_at=work.now,
        cost_minor=new.cost,
        in_hand=new.quantity,
        attributes=merged_attributes(kind, {}, new.attributes, pointer),
        **new.plain,
    )
    set_made_on(lot, new.made_on, work.now.date())
    for name, value in columns.items():
        setattr(lot, name, value)
    set_measured(work, lot, new.measured, f"{pointer}/measured")
    return lot


def change_facts(work: Work, lot: Lot, changes: Mapping[str, Any]) -> None:
    """Change what a lot says of itself, as the schema of a change read it.

    `measured` and `attributes` are merged. Raises :class:`Impossible`.
    """
    kind = work.declared.kinds.get(lot.kind)
    for name, value in changes.items():
        match name:
            case "measured":
                continue
            case "attributes":
                if kind is not None:
                    lot.attributes = merged_attributes(kind, lot.attributes, value)
            case "material":
                lot.material = known_material(kind, value) if kind else None
            case "made_on":
                set_made_on(lot, value, work.now.date())
            case _:
                setattr(lot, name, value)
    if "measured" in changes or ("label" in changes and kind is not None):
        set_measured(work, lot, changes.get("measured", {}))


def split_off(lot: Lot, quantity: int, cost_minor: int | None, **columns: Any) -> Lot:
    """Return a lot of pieces of another; what each field becomes, its description says."""
    copied = {name: getattr(lot, name) for name in LotDescription.columns_split(Split.COPY)}
    copied = {name: dict(of) if isinstance(of, dict) else of for name, of in copied.items()}
    shared = {"in_hand": quantity, "cost_minor": cost_minor}
    return Lot(**{**copied, **shared, "parent_lot_id": lot.id, **columns})


def follow_part(work: Work, part: Part) -> None:
    """Give the lots of a changed part its nominal dimensions where they were not measured."""
    statement = (
        select(Lot)
        .options(lazyload("*"))  # as in `locked`: a lot that moves meanwhile would be left out
        .where(Lot.part_id == part.id)
        .order_by(Lot.id)
        .with_for_update(key_share=True, of=Lot)
        .execution_options(populate_existing=True)
    )
    for lot in work.session.scalars(statement):
        kind = work.declared.kinds.get(lot.kind)
        _write_dimensions(lot, kind, measured_nanometres(lot), "/dimensions")


def measured_nanometres(lot: Lot) -> dict[str, int]:
    """Return the dimensions that were measured on a lot, in nanometres."""
    return {name: getattr(lot, column_of(name)) for name in DIMENSIONS if name in lot.measured}


def merged_attributes(
    kind: PartKind, present: Mapping[str, Any], changes: Mapping[str, Any], pointer: str = ""
) -> dict[str, Any]:
    """Return a lot's attributes after a change; a null takes one away. Raises Impossible."""
    described = {attribute.name: attribute for attribute in kind.attributes}
    merged, problems = dict(present), []
    for name, raw in changes.items():
        if name not in described:
            known = ", ".join(described) or "none"
            detail = f"{name!r} is no attribute of a {kind.title}; it has {known}"
        elif raw is None:
            merged.pop(name, None)
            continue
        else:
            try:
                value = read_value(described[name], raw).value
            except ValueRefused as error:
                detail = str(error)
            else:
                merged[name] = value if isinstance(value, int | bool) else str(value)
                continue
        problems.append(Problem(f"{pointer}/attributes/{name}", detail))
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return merged


def set_measured(
    work: Work,
    lot: Lot,
    changes: Mapping[str, EnteredLength | None],
    pointer: str = "/measured",
) -> None:
    """Write what was measured on a lot; a null takes one reading away. Raises Impossible."""
    kind = kind_named(work.declared, lot.kind, "/part")
    present = {name: length for name, length in changes.items() if length is not None}
    # Where there is a part, its dimensions stand there instead.
    unmeasured = _nominal(lot) if lot.part is None else {}
    nanometres = measured_nanometres(lot) | checked_dimensions(kind, present, pointer)
    texts = {**lot.measured, **{name: length.text for name, length in present.items()}}
    for name in changes.keys() - present.keys():
        nanometres.pop(name, None)
        texts.pop(name, None)
    hows = {name: how for name, how in lot.measured_how.items() if name not in changes}
    hows |= {name: how for name, length in present.items() if (how := how_measured(length))}
    lot.measured, lot.measured_how = texts, hows
    _write_dimensions(lot, kind, nanometres, pointer, unmeasured)


def _nominal(lot: Lot) -> dict[str, int]:
    """Return what is said of pieces of no part without having been measured."""
    known = basis(lot)
    return {name: value for name, value in lot.dimensions.items() if known[name] == "nominal"}


def _write_dimensions(
    lot: Lot,
    kind: PartKind | None,
    measured: Mapping[str, int],
    pointer: str,
    unmeasured: Mapping[str, int] | None = None,
) -> None:
    """Fill the columns: what is measured counts, and a nominal that contradicts it is left out.

    A part's dimensions stand before what the packet's number says.
    """
    refuse_contradictions(measured, pointer)
    nominal = dict(unmeasured or {})
    if lot.part is not None:
        nominal = lot.part.dimensions
        if kind is not None and kind.led_by not in nominal:
            nominal = claimed(kind, lot.label) | nominal
    measured = {**derived(kind, measured), **measured}
    merged = {**nominal, **measured}
    while (fault := contradiction(merged)) is not None:
        merged.pop("outside_diameter" if fault[0] in measured else fault[0])
    set_dimensions(lot, merged)


def set_made_on(lot: Lot, made_on: MadeOn | None, today: date) -> None:
    """Note when a lot was made. Raises :class:`Impossible` for a day to come."""
    if made_on is not None and made_on.earliest > today:
        raise Impossible.at("/made_on", f"{made_on.text} is still to come")
    lot.made_on = made_on.text if made_on else None
    lot.made_from = made_on.earliest if made_on else None
