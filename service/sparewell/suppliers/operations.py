"""Suppliers and what they offer: who sells what, in which pack, at which price breaks."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.catalogue.operations import find_part, kind_named
from sparewell.catalogue.tables import Part
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.suppliers.schemas import SupplierDescription
from sparewell.suppliers.tables import Offer, Supplier
from sparewell.work import Work

_OF_AN_OFFER = ("item_number", "pack_pieces", "minimum_pieces", "note")
_AT_ONCE = 500  # databases take only so many values in one statement


def find_supplier(session: Session, supplier_id: int) -> Supplier:
    """Return a supplier by its id. Raises :class:`NotFound`."""
    supplier = session.get(Supplier, supplier_id)
    if supplier is None:
        raise NotFound(f"there is no supplier {supplier_id}")
    return supplier


def find_offer(session: Session, offer_id: int) -> Offer:
    """Return an offer by its id. Raises :class:`NotFound`."""
    offer = session.get(Offer, offer_id)
    if offer is None:
        raise NotFound(f"there is no offer {offer_id}")
    return offer


def create_supplier(work: Work, values: Mapping[str, Any]) -> Supplier:
    """Note a supplier. Raises :class:`Conflict` for a name that is taken."""
    _refuse_taken(work.session, values["name"])
    supplier = Supplier(created_at=work.now)
    _write_down(supplier, values)
    work.session.add(supplier)
    work.session.flush()
    return supplier


def change_supplier(work: Work, supplier: Supplier, changes: Mapping[str, Any]) -> Supplier:
    """Change a locked supplier, retire it or take it back."""
    if changes.get("name", supplier.name) != supplier.name:
        _refuse_taken(work.session, changes["name"])
    _write_down(supplier, changes)
    _retire(work, supplier, changes)
    work.session.flush()
    return supplier


def _write_down(supplier: Supplier, said: Mapping[str, Any]) -> None:
    if said.get("postage", 0) is None:
        raise Impossible.at("/postage", "postage is an amount; give 0 where there is none")
    for name, value in said.items():
        if name != "retired":
            setattr(supplier, SupplierDescription.kept_as(name), value)


def _refuse_taken(session: Session, name: str) -> None:
    if session.scalar(select(Supplier.id).where(Supplier.name == name)) is not None:
        raise Conflict(
            f"there is already a supplier {name!r}",
            [Problem("/name", "taken; choose another name, or change that supplier")],
        )


def _retire(work: Work, row: Supplier | Offer, changes: Mapping[str, Any]) -> None:
    if "retired" in changes:
        row.retired_at = (row.retired_at or work.now) if changes["retired"] else None


def create_offer(work: Work, supplier: Supplier, values: Mapping[str, Any]) -> Offer:
    """Note what a supplier sells. Raises :class:`Impossible`."""
    offer = Offer(
        supplier=supplier,
        created_at=work.now,
        breaks=checked_breaks(values["prices"]),
        **{name: values[name] for name in _OF_AN_OFFER},
    )
    _set_what(work, offer, values)
    work.session.add(offer)
    work.session.flush()
    return offer


def change_offer(work: Work, offer: Offer, changes: Mapping[str, Any]) -> Offer:
    """Change a locked offer, retire it or take it back. What was ordered stays as it was."""
    for name in _OF_AN_OFFER:
        if name in changes:
            setattr(offer, name, changes[name])
    if "prices" in changes:
        offer.breaks = checked_breaks(changes["prices"])
    if changes.keys() & {"part", "kind", "size"}:
        _set_what(work, offer, changes)
    _retire(work, offer, changes)
    work.session.flush()
    return offer


def _set_what(work: Work, offer: Offer, values: Mapping[str, Any]) -> None:
    number, kind, size = (values.get(name) for name in ("part", "kind", "size"))
    if number is not None and kind is None and size is None:
        offer.part, offer.kind, offer.size = part_named(work, number, "/part"), None, None
    elif number is None and kind is not None and size is not None:
        offer.part, offer.kind, offer.size = None, kind_named(work.declared, kind).name, size
    else:
        raise Impossible.at("", "an offer names a part, or a kind and a size in words; not both")


def part_named(work: Work, number: str, pointer: str) -> Part:
    """Return a part that a body names. Raises :class:`Impossible`."""
    try:
        return find_part(work.session, number)
    except NotFound as error:
        raise Impossible.at(pointer, f"{error.detail}; POST /v1/parts makes one") from error


def checked_breaks(prices: Sequence[Mapping[str, int | None]]) -> list[dict[str, int | None]]:
    """Return price breaks, the fewest packs first. Raises :class:`Impossible`."""
    for place, each in enumerate(prices):
        if each["price"] is None:
            raise Impossible.at(f"/prices/{place}/price", "give the price of a pack")
    breaks = sorted(
        ({"packs": each["packs"], "price_minor": each["price"]} for each in prices),
        key=lambda each: each["packs"] or 0,
    )
    if len({each["packs"] for each in breaks}) < len(breaks):
        raise Impossible.at("/prices", "two prices for one number of packs; give one")
    if breaks[0]["packs"] != 1:
        raise Impossible.at("/prices", "the first price is that of 1 pack; give it")
    return breaks


def price_of(offer: Offer, packs: int) -> int:
    """Return what each of so many packs costs: the last break reached holds for all of them."""
    reached = [each for each in offer.breaks if each["packs"] <= packs]
    price: int = reached[-1]["price_minor"]
    return price


def least_packs(offer: Offer, pieces: int) -> int:
    """Return how many packs bring so many pieces, and no fewer than the supplier sells."""
    return -(-max(pieces, offer.minimum_pieces) // offer.pack_pieces)


def offers_of_parts(session: Session, part_ids: Collection[int]) -> dict[int, list[Offer]]:
    """Return by part what can be ordered, the cheapest piece first."""
    found: dict[int, list[Offer]] = {}
    wanted = sorted(part_ids)
    for start in range(0, len(wanted), _AT_ONCE):
        statement = (
            select(Offer)
            .join(Supplier, Supplier.id == Offer.supplier_id)
            .where(Offer.part_id.in_(wanted[start : start + _AT_ONCE]))
            .where(Offer.retired_at.is_(None), Supplier.retired_at.is_(None))
            .order_by(Offer.id)
        )
        for offer in session.scalars(statement):
            assert offer.part_id is not None  # noqa: S101 - they were asked for by it
            found.setdefault(offer.part_id, []).append(offer)
    for offers in found.values():
        offers.sort(key=_price_of_a_piece)
    return found


def _price_of_a_piece(offer: Offer) -> tuple[float, int]:
    """Order offers by what a piece costs in the smallest order there can be."""
    packs = least_packs(offer, 1)
    return price_of(offer, packs) / offer.pack_pieces, offer.id
