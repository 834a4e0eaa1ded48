"""Turning pieces into others: cutting, opening a kit, punching washers, putting used ones back.

All are one thing: an act of several movements takes pieces out of a lot and makes new lots, whose
parent it is. What the pieces carried of their lot's cost is shared out among the new lots, so that
an act as a whole moves no money.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import func, select

from sparewell.catalogue.operations import checked_dimensions, find_part, kind_named
from sparewell.catalogue.tables import Part
from sparewell.database.transaction import locked
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.handling.freeing import locked_free, refuse_holder, refuse_lack, take_out
from sparewell.handling.sheets import Offcut, Washer, kept, left_of, refuse_sheet, sides
from sparewell.ledger.operations import LedgerLine, record
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.conditions import Condition
from sparewell.lots.operations import NewLot, described_lot, set_measured, split_off
from sparewell.lots.tables import Lot
from sparewell.measure.entered import EnteredLength
from sparewell.measure.length import length_text
from sparewell.measure.money import take_share
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

CONVERTING = (Verb.CUT, Verb.OPENED, Verb.PUNCHED)
CONDITIONS_PUT_BACK = (Condition.AS_NEW, Condition.USED, Condition.CUT)
# What a piece was, it stays when it is cut.
_OUTLASTS_A_CUT = (Condition.USED, Condition.OFFCUT)


@dataclass(frozen=True)
class Conversion:
    """What was done: the act, the lot that pieces were taken from, the lots made of them."""

    act_id: int
    taken_from: Lot
    made: tuple[Lot, ...]
    says: str = ""


@dataclass(frozen=True)
class KitContent:
    """What one kit holds of a part; `share` weighs its cost against the others'."""

    part: str
    quantity: int
    share: int | None = None


def cut(
    work: Work,
    lot: Lot,
    length: EnteredLength,
    quantity: int = 1,
    note: str = "",
    *,
    keep_offcut: bool | None = None,
    release: Sequence[int] = (),
) -> Conversion:
    """Cut pieces to a length. What is left over is kept where its length is known, unless not."""
    kind = kind_named(work.declared, lot.kind, "/length")
    checked_dimensions(kind, {"length": length}, "")
    lot = _locked_to_convert(work, lot, quantity, Verb.CUT, release)
    whole = lot.length_nanometres
    _refuse_length(whole, length.nanometres, keep_offcut=bool(keep_offcut))
    keeps = whole is not None and keep_offcut is not False
    measured = "length" in lot.measured
    condition = lot.condition if lot.condition in _OUTLASTS_A_CUT else Verb.CUT
    cost = take_out(work, lot, quantity)
    of_piece = cost
    if cost is not None and keeps:
        of_piece = take_share(cost, whole or 0, length.nanometres)
    piece = split_off(lot, quantity, of_piece, condition=condition)
    set_measured(work, piece, {"length": length}, "")
    if not keeps or whole is None:
        return _written(work, note, Verb.CUT, lot, quantity, (piece,))
    left = whole - length.nanometres
    # Whoever asks for the part wants no offcut of it, so it is of the kind and of no part.
    rest = None if cost is None else cost - (of_piece or 0)
    offcut = split_off(lot, quantity, rest, part=None, condition=Condition.OFFCUT)
    offcut.length_nanometres = left
    if measured:
        offcut.measured = {**lot.measured, "length": length_text(left)}
        offcut.measured_how = {k: how for k, how in lot.measured_how.items() if k != "length"}
    return _written(work, note, Verb.CUT, lot, quantity, (piece, offcut))


def _refuse_length(whole: int | None, wanted: int, *, keep_offcut: bool) -> None:
    if whole is None:
        if keep_offcut:
            raise Conflict(
                "how long the pieces are is not known, so neither is what would be left",
                [
                    Problem(
                        "/keep_offcut",
                        "measure the length of the bag first, or let the offcut go: false",
                    )
                ],
            )
    elif wanted >= whole:
        has = "are just so long" if wanted == whole else f"are only {length_text(whole)} long"
        raise Impossible.at(
            "/length", f"the pieces {has}; give a length shorter than {length_text(whole)}"
        )


def put_back(
    work: Work,
    lot: Lot,
    reservation_id: int,
    quantity: int,
    condition: str,
    length: EnteredLength | None = None,
    note: str = "",
) -> Conversion:
    """Take used pieces back into stock, as a lot of their own. They stay used for their job too.

    What was fitted for a reservation and not put back yet is the most there can be; the pieces
    bring back their share of the cost that left with them.
    """
    reservation = work.session.get(Reservation, reservation_id)
    if reservation is None or reservation.lot_id != lot.id:
        raise Impossible.at(
            "/reservation",
            f"{reservation_id} is no reservation of bag {lot.id}; GET /v1/"
            f"reservations?lot={lot.id} lists them",
        )
    if condition == Verb.CUT and length is None:
        raise Impossible.at("/length", "say how long the piece is that was cut")
    reservation = locked(work.session, reservation)
    lot = locked(work.session, lot)
    returned, cost_returned = _in_ledger(work, reservation, Verb.PUT_BACK)
    left = reservation.used - returned
    if quantity > left:
        raise Conflict(
            f"{quantity} cannot be put back: {reservation.used} of reservation {reservation.id} "
            f"were used, and {returned} of them were put back",
            [Problem("/quantity", f"at most {left}")],
        )
    cost = None
    if lot.cost_minor is not None:
        cost_fitted = -_in_ledger(work, reservation, Verb.FITTED)[1]
        cost = take_share(cost_fitted - cost_returned, left, quantity)
    # A used offcut is an offcut still: nobody wants it offered as the part.
    kept = Condition.OFFCUT if lot.condition == Condition.OFFCUT else condition
    pieces = split_off(lot, quantity, cost, condition=kept)
    if length is not None:
        if lot.length_nanometres is not None and length.nanometres > lot.length_nanometres:
            raise Impossible.at(
                "/length", f"the pieces were only {length_text(lot.length_nanometres)} long"
            )
        set_measured(work, pieces, {"length": length}, "")
    work.session.add(pieces)
    work.session.flush()
    line = LedgerLine(
        pieces,
        Verb.PUT_BACK,
        quantity,
        quantity,
        cost or 0,
        reservation_id=reservation.id,
        job_id=reservation.job_id,
    )
    (movement,) = record(work, note, line)
    return Conversion(movement.act_id, lot, (pieces,))


def _in_ledger(work: Work, reservation: Reservation, verb: Verb) -> tuple[int, int]:
    """Return the pieces and the change of cost that a verb has under a reservation."""
    statement = select(func.sum(Movement.pieces), func.sum(Movement.cost_change_minor)).where(
        Movement.reservation_id == reservation.id, Movement.verb == verb
    )
    pieces, cost = work.session.execute(statement).one()
    return int(pieces or 0), int(cost or 0)


def open_kit(
    work: Work,
    lot: Lot,
    contents: Sequence[KitContent],
    note: str = "",
    release: Sequence[int] = (),
) -> Conversion:
    """Open one piece of a lot: what it holds becomes lots of other parts.

    They are as old as the kit. Without shares each piece carries as much of its cost as another.
    """
    parts = [
        _part_named(work, content.part, f"/contents/{position}/part")
        for position, content in enumerate(contents)
    ]
    weights = _weights(contents)
    lot = _locked_to_convert(work, lot, 1, Verb.OPENED, release)
    if lot.part in parts:
        position = parts.index(lot.part)
        raise Impossible.at(f"/contents/{position}/part", "a kit does not hold itself")
    costs = _shares(take_out(work, lot, 1), weights)
    made = tuple(
        _new_pieces(work, lot, part, content.quantity, cost)
        for part, content, cost in zip(parts, contents, costs, strict=True)
    )
    return _written(work, note, Verb.OPENED, lot, 1, made)


def _weights(contents: Sequence[KitContent]) -> list[int]:
    shares = [content.share for content in contents if content.share is not None]
    if not shares:
        return [content.quantity for content in contents]
    if len(shares) < len(contents):
        raise Impossible.at("/contents", "give each content a share, or none of them")
    return shares


def _shares(cost: int | None, weights: Sequence[int]) -> Iterator[int | None]:
    """Yield each one's share of a cost; together they are the whole, to the last unit."""
    left, weight_left = cost, sum(weights)
    for weight in weights:
        share = None if left is None else take_share(left, weight_left, weight)
        yield share
        left = None if left is None else left - (share or 0)
        weight_left -= weight


def punch(
    work: Work,
    lot: Lot,
    washer: Washer,
    offcuts: Sequence[Offcut] | None = None,
    note: str = "",
    release: Sequence[int] = (),
) -> Conversion:
    """Punch washers out of one sheet of a lot; what is left of it is what the person says.

    Where nothing is said the rest is kept as one rectangle; an empty list keeps nothing. An area is
    reckoned from width and length wherever it is wanted, and never kept. Each offcut carries the
    cost of its area, and the washers the rest, waste included.
    """
    part = _part_named(work, washer.part, "/part")
    kind = kind_named(work.declared, part.kind, "/part")
    measured = {"outside_diameter": washer.outside_diameter}
    if washer.inside_diameter is not None:
        measured["inside_diameter"] = washer.inside_diameter
    checked_dimensions(kind, measured, "")
    lot = _locked_to_convert(work, lot, 1, Verb.PUNCHED, release)
    says = f"one sheet of {sides(lot.width_nanometres, lot.length_nanometres)} is taken"
    if offcuts is None:
        offcuts, rest = left_of(work, lot, washer)
        says = f"{says}; {rest}"
    area = refuse_sheet(lot, washer, offcuts)
    areas = [offcut.area for offcut in offcuts]
    of_washers, *of_offcuts = _shares(take_out(work, lot, 1), [area - sum(areas), *areas])
    washers = _new_pieces(work, lot, part, washer.quantity, of_washers)
    washers.material = lot.material or part.material
    washers.material_confidence = lot.material_confidence
    if any(dimension.name == "thickness" for dimension in kind.dimensions):
        text = lot.measured.get("thickness")
        if text is not None and lot.thickness_nanometres is not None:
            measured["thickness"] = EnteredLength(lot.thickness_nanometres, text)
    set_measured(work, washers, measured, "")
    made = [washers]
    for offcut, cost in zip(offcuts, of_offcuts, strict=True):
        left = split_off(lot, 1, cost, part=None, condition=Condition.OFFCUT)
        set_measured(work, left, {"width": offcut.width, "length": offcut.length}, "/offcuts")
        made.append(left)
    return replace(
        _written(work, note, Verb.PUNCHED, lot, 1, made), says=f"{says}; {kept(made[1:])}"
    )


def _locked_to_convert(
    work: Work, lot: Lot, quantity: int, verb: Verb, release: Sequence[int]
) -> Lot:
    (lot,) = locked_free(work, [lot], release)
    refuse_lack(work, lot, quantity, verb)
    refuse_holder(work, lot)
    return lot


def _part_named(work: Work, number: str, pointer: str) -> Part:
    try:
        return find_part(work.session, number)
    except NotFound as error:
        raise Impossible.at(pointer, f"{error.detail}; POST /v1/parts makes one") from error


def _new_pieces(work: Work, lot: Lot, part: Part, quantity: int, cost: int | None) -> Lot:
    """Return pieces of another part that come out of a lot, in its place and as old as it."""
    as_the_lot = ("place_id", "donor_id", "made_on", "made_from", "arrived_at")
    return described_lot(
        work,
        part,
        NewLot(quantity=quantity, cost=cost),
        parent_lot_id=lot.id,
        **{name: getattr(lot, name) for name in as_the_lot},
    )


def _written(
    work: Work, note: str, verb: Verb, lot: Lot, quantity: int, made: Sequence[Lot]
) -> Conversion:
    """Add the new lots, and write the act that takes pieces out of one and makes the others."""
    work.session.add_all(made)
    work.session.flush()
    costs = [pieces.cost_minor or 0 for pieces in made]
    movements = record(
        work,
        note,
        LedgerLine(lot, verb, -quantity, quantity, -sum(costs)),
        *(
            LedgerLine(pieces, verb, pieces.in_hand, pieces.in_hand, cost)
            for pieces, cost in zip(made, costs, strict=True)
        ),
    )
    return Conversion(movements[0].act_id, lot, tuple(made))
