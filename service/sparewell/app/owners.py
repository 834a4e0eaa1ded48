"""Who owns tables: the core first, then each plugin that declares some."""

from __future__ import annotations

from sparewell.app.metadata import CORE_METADATA
from sparewell.database.migrate import Owner, core_owner
from sparewell.extend.host import Declarations


def owners_of_tables(declared: Declarations) -> list[Owner]:
    """Return the owners in the order in which they are brought up."""
    plugins = [
        Owner(tables.name, tables.metadata, tables.versions) for tables in declared.tables.values()
    ]
    return [core_owner(CORE_METADATA), *plugins]
