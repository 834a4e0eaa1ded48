"""What drawers look like in JSON."""

from __future__ import annotations

from sparewell.edge.description import REQUIRED, Described, Description
from sparewell.edge.fields import Moment, SeveralLines, identifier_text
from sparewell.edge.paging import page_schema


class DrawerDescription(Description):
    """A drawer; only its code is required."""

    code = Described(identifier_text(40), new=REQUIRED, export="code")
    note = Described(SeveralLines(empty_allowed=True), new="", change=True, export="note")
    created_at = Described(Moment(), export="created_at")


NewDrawerSchema, ChangedDrawerSchema, DrawerSchema = DrawerDescription.schemas("Drawer")
DrawerPageSchema = page_schema("drawers", DrawerSchema)
