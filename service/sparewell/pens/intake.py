"""What is noted of a pen when it comes in, and of a reading that was wrong."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sparewell.errors import Conflict, Impossible, Problem
from sparewell.pens.schemas import PenDescription
from sparewell.pens.tables import Pen, Reading, ReadingCorrection
from sparewell.work import Work

OF_A_PEN = (
    "owner",
    "accessories",
    "condition",
    "components",
    "model_note",
    "cost",
    "might_fetch",
)


def model_key(model_note: str) -> str:
    """Return a model note as it is compared: without regard to capitals and spaces."""
    return " ".join(model_note.casefold().split())


def write_down(pen: Pen, said: Mapping[str, Any], now: datetime) -> None:
    """Note what is said of a pen, by the names it has outside."""
    for name, value in said.items():
        if name == "retired":
            pen.retired_at = (pen.retired_at or now) if value else None
            continue
        setattr(pen, PenDescription.kept_as(name), value)
        if name == "model_note":
            pen.model_key = model_key(value)


def refuse_bought_together(number: str, purchase_id: int | None) -> None:
    """Refuse to say what a pen or a donor cost beside the purchase that says so already."""
    if purchase_id is not None:
        raise Conflict(
            f"{number} was bought with others in purchase {purchase_id}, which says what it cost: "
            "divide that anew, or leave it out there",
            [Problem("/cost", f"PATCH /v1/purchases/{purchase_id}", {"purchase": purchase_id})],
        )


def refuse_retired(pen: Pen) -> None:
    """Refuse to begin anything on a retired pen."""
    if pen.retired_at is not None:
        raise Conflict(
            f"{pen.number} is retired; PATCH it with "
            '{"retired": false} if it is to be repaired after all'
        )


def correct_reading(work: Work, pen: Pen, reading_id: int, why: str, new: list[Reading]) -> None:
    """Add readings to a locked pen; an old one is kept but counts no more, being corrected.

    Of the new readings the one of the same name stands in its place. Raises :class:`Impossible`
    for a reading that is not this pen's, :class:`Conflict` for one that is corrected already.
    """
    old = next((reading for reading in pen.readings if reading.id == reading_id), None)
    if old is None:
        raise Impossible.at(
            "/corrects",
            f"{reading_id} is no reading of {pen.number}; the pen shows the ids of its readings",
        )
    if old.correction is not None:
        raise Conflict(f"reading {reading_id} is corrected already: {old.correction.why}")
    pen.readings.extend(new)
    work.session.flush()
    by = next((reading.id for reading in new if reading.name == old.name), None)
    old.correction = ReadingCorrection(
        reading_id=old.id,
        by_reading_id=by,
        why=why,
        actor=work.actor.token,
        person=work.actor.person,
        at=work.now,
    )
    work.session.flush()
