"""One description of a thing: what its three schemas read and write, and what splitting does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import marshmallow as ma
import pytest
from sqlalchemy import inspect
from sqlalchemy.orm import RelationshipProperty

from sparewell.catalogue.schemas import PartDescription
from sparewell.catalogue.tables import Part
from sparewell.database.columns import Base
from sparewell.donors.schemas import ComponentDescription, DonorDescription
from sparewell.donors.tables import Component, Donor
from sparewell.edge.description import OPTIONAL, REQUIRED, Described, Description, Split
from sparewell.edge.fields import Moment, Text, free_text, pieces
from sparewell.jobs.schemas import JobDescription, NeedDescription
from sparewell.jobs.tables import Job, Need
from sparewell.ledger.schemas import MovementDescription
from sparewell.ledger.tables import Movement
from sparewell.lots.operations import NewLot, split_off
from sparewell.lots.schemas import LotDescription
from sparewell.lots.tables import Lot
from sparewell.pens.schemas import PenDescription
from sparewell.pens.tables import Pen
from sparewell.places.schemas import DrawerDescription
from sparewell.places.tables import Place
from sparewell.purchases.schemas import PenPurchaseDescription
from sparewell.purchases.tables import PenPurchase
from sparewell.reservations.schemas import ReservationDescription
from sparewell.reservations.tables import Reservation


class TinDescription(Description):
    """A tin on a shelf."""

    shelf = Described(Text(longest=5), new=REQUIRED, kept=("shelf_row",), read="shelf.code")
    pieces = Described(pieces(), new=1, on_split=Split.SHARE, kept=("in_hand",))
    label = Described(Text(), new=OPTIONAL, change=True, nullable=True, on_split=Split.COPY)
    note = Described(free_text(40), new="", change=True, on_split=Split.COPY)
    warnings = Described(ma.fields.List(ma.fields.String()))
    created_at = Described(Moment())


NewTin, ChangedTin, TinShown = TinDescription.schemas("Tin")


@dataclass
class Tin:
    """A row."""

    shelf: Any
    in_hand: int = 1
    label: str | None = None
    note: str = ""
    created_at: None = None


@dataclass
class ShownTin:
    """A row, with what is said against it."""

    row: Tin
    warnings: list[str]


@dataclass
class Shelf:
    """Where it stands."""

    code: str


def test_a_new_thing_has_its_required_fields_and_its_defaults() -> None:
    """What is required is asked for, what has a value is given it, and what is optional is left."""
    assert NewTin().load({"shelf": "A"}) == {"shelf": "A", "pieces": 1, "note": ""}
    with pytest.raises(ma.ValidationError) as refused:
        NewTin().load({"label": None})
    assert set(refused.value.messages_dict) == {"shelf", "label"}


def test_a_change_takes_only_what_may_be_changed() -> None:
    """Null is read where it is shown, too; nothing has a value of its own, the rest is unknown."""
    assert ChangedTin().load({}) == {}
    assert ChangedTin().load({"label": None, "note": " b "}) == {"label": None, "note": "b"}
    with pytest.raises(ma.ValidationError) as refused:
        ChangedTin().load({"shelf": "B"})
    assert set(refused.value.messages_dict) == {"shelf"}


def test_what_is_shown_stands_on_the_row_or_beside_it() -> None:
    """Derived members come from what is handed out, all others from its row, by their paths."""
    shown = TinShown().dump(ShownTin(Tin(Shelf("A"), 3), ["rusty"]))
    assert shown == {
        "shelf": "A",
        "pieces": 3,
        "label": None,
        "note": "",
        "warnings": ["rusty"],
        "created_at": None,
    }


def test_nothing_has_nothing_behind_it() -> None:
    """A path that leads through null shows null."""
    assert TinShown(only=["shelf"]).dump(Tin(None)) == {"shelf": None}


def test_a_member_that_is_nowhere_fails() -> None:
    """A field that neither the row nor what goes with it has is not left out in silence."""
    with pytest.raises(AttributeError):
        TinShown(only=["warnings"]).dump(Tin(Shelf("A")))


def test_the_fate_of_a_column_stands_at_the_field() -> None:
    """Each column is copied, shared or dropped, as its field says."""
    assert TinDescription.columns_split(Split.COPY) == ["label", "note"]
    assert TinDescription.columns_split(Split.SHARE) == ["in_hand"]


def test_a_row_has_its_defaults_at_once() -> None:
    """A row made here can be read before it is written, and each has a document of its own."""
    lot, other = Lot(kind="sac", in_hand=2), Lot(kind="sac", in_hand=2)
    assert (lot.promised, lot.has_available, lot.note, lot.measured) == (0, True, "", {})
    lot.measured["length"] = "5 mm"
    assert other.measured == {}
    with pytest.raises(TypeError, match="Lot has no colour"):
        Lot(colour="black")


@pytest.mark.parametrize(
    ("row", "description", "beside"),
    [
        (Lot, LotDescription, {"version"}),
        (Part, PartDescription, {"id"}),
        (Place, DrawerDescription, {"id", "type"}),
        (Pen, PenDescription, {"version"}),
        (Reservation, ReservationDescription, {"move_read_at", "move_read_there_at"}),
        (Movement, MovementDescription, set()),
        (Job, JobDescription, {"version"}),
        (Need, NeedDescription, {"job_id"}),
        (Donor, DonorDescription, set()),
        (Component, ComponentDescription, {"donor_id"}),
        (PenPurchase, PenPurchaseDescription, set()),
    ],
)
def test_every_column_belongs_to_a_field(
    row: type[Base], description: type[Description], beside: set[str]
) -> None:
    """A column that is added to a table is spoken of in the description of its thing."""
    kept = {
        column for name, each in description.described.items() for column in each.kept or (name,)
    }
    mapper = inspect(row)
    for name in kept & set(mapper.relationships.keys()):
        relation = mapper.relationships[name]
        assert isinstance(relation, RelationshipProperty)
        kept |= {column.key for column in relation.local_columns if column.key}
    assert {column.key for column in mapper.column_attrs} - kept == beside


def test_what_splitting_shares_is_what_it_is_handed() -> None:
    """Whoever splits a lot hands out two figures; a third would have to be shared out, too."""
    assert LotDescription.columns_split(Split.SHARE) == ["in_hand", "cost_minor"]


def test_what_is_said_goes_to_those_who_act_on_it_or_is_only_kept() -> None:
    """A member that operations name is theirs; any other is kept by the name of its column."""
    new = NewLot.said({"quantity": 2, "shelf_life": "long"})
    assert (new.quantity, new.plain) == (2, {"shelf_life": "long"})


def test_split_pieces_are_like_those_they_come_from() -> None:
    """What is copied is equal and apart; what is shared is given; what is promised stays behind."""
    lot = Lot(id=7, kind="sac", in_hand=5, promised=2, label="16", measured={"length": "5 mm"})
    some = split_off(lot, 2, 30, place_id=4)
    assert (some.parent_lot_id, some.in_hand, some.promised, some.cost_minor) == (7, 2, 0, 30)
    assert (some.kind, some.label, some.place_id, some.measured) == ("sac", "16", 4, lot.measured)
    assert some.measured is not lot.measured
