"""Changing what is said of a donor as a whole."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from sparewell.donors import costs
from sparewell.donors.schemas import DonorDescription
from sparewell.donors.tables import Donor
from sparewell.pens.intake import refuse_bought_together
from sparewell.pens.tables import Pen
from sparewell.work import Work


def change_donor(work: Work, donor: Donor, changes: Mapping[str, Any]) -> Donor:
    """Change what is said of a locked donor; its cost is divided over what is left of it.

    Raises :class:`Conflict` where a purchase says what it cost.
    """
    for name, value in changes.items():
        if name != "cost":
            setattr(donor, DonorDescription.kept_as(name), value)
    if changes.get("cost", donor.cost_minor) != donor.cost_minor:
        refuse_bought_together(donor.number, _purchase_of(work.session, donor))
        costs.set_cost(work, donor, changes["cost"])
    work.session.flush()
    return donor


def _purchase_of(session: Session, donor: Donor) -> int | None:
    """Return the purchase of a donor, or of the pen that it was made of."""
    if donor.purchase_id is not None or donor.pen_id is None:
        return donor.purchase_id
    return session.get_one(Pen, donor.pen_id).purchase_id
