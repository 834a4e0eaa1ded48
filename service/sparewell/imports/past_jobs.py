"""The row of a past job, which the API has nowhere else."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.catalogue.schemas import NOTE_WORDS, PART_WORDS
from sparewell.edge.description import OPTIONAL, REQUIRED, Described, Description, Heading
from sparewell.edge.fields import (
    SeveralLines,
    Text,
    identifier_text,
    pieces,
)
from sparewell.outcomes.tables import TurnedOut
from sparewell.pens.schemas import CALLED_WORDS, OWNER_WORDS, SYSTEM_WORDS


class PastJobDescription(Description):
    """A job that was done before: on which pen, when, and what was fitted."""

    pen = Described(
        Text(),
        new=REQUIRED,
        column=Heading("the pen: its number here, or what it is called", CALLED_WORDS),
    )
    filling_system = Described(
        Text(longest=40),
        new=OPTIONAL,
        column=Heading("the pen's filling system, where it is not here yet", SYSTEM_WORDS),
    )
    owner = Described(Text(), new="", column=Heading("whose the pen is", OWNER_WORDS))
    done_on = Described(
        fields.Date(),
        new=REQUIRED,
        column=Heading(
            "the day on which the job was done",
            ("date", "done", "done on", "finished", "closed", "repaired", "when", "fitted on"),
        ),
    )
    part = Described(
        identifier_text(),
        new=OPTIONAL,
        column=Heading("the number of the part that was fitted", (*PART_WORDS, "fitted")),
    )
    kind = Described(
        Text(longest=40),
        new=OPTIONAL,
        column=Heading("the kind of piece that was fitted", ("kind", "kind of part", "sort")),
    )
    label = Described(Text(), new=OPTIONAL, column=Heading("the size on the packet", ("label",)))
    quantity = Described(
        pieces(),
        new=1,
        column=Heading(
            "how many pieces were fitted", ("qty", "quantity", "pieces", "pcs", "how many")
        ),
    )
    outcome = Described(
        fields.String(validate=validate.OneOf(tuple(TurnedOut))),
        new=None,
        column=Heading(
            "how it turned out", ("outcome", "verdict", "result", "how", "turned out", "fit")
        ),
    )
    glue = Described(Text(), new="", column=Heading("the glue", ("glue", "sealant", "shellac")))
    ink = Described(Text(), new="", column=Heading("the ink", ("ink",)))
    note = Described(SeveralLines(empty_allowed=True), new="", column=Heading("a note", NOTE_WORDS))


class PastJobSchema(PastJobDescription.new_schema("_PastJob")):  # type: ignore[misc]
    """A row of a past job."""

    @ma.validates_schema
    def _outcome_of_something(self, data: dict[str, Any], **_options: Any) -> None:
        is_fitted = {"part", "kind"} & data.keys()
        if data.get("outcome") and not is_fitted:
            raise ma.ValidationError(
                "it does not say what turned out so: give the part or its kind", "outcome"
            )
