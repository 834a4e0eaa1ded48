"""One environment for every owner of tables: the core, and each plugin that declares tables.

`sparewell.database.migrate` builds the configuration in code and hands over the owner and an open
connection; there is no alembic.ini. Each owner has a lineage and a version table of its own, so a
plugin that is gone leaves the others able to move.
"""

from typing import Any

from alembic import context

owner = context.config.attributes["owner"]
connection = context.config.attributes["connection"]


def is_owned(name: str | None, kind: str, _parents: Any) -> bool:
    """Look only at the owner's tables, so that others' never count as drift."""
    return kind != "table" or name in owner.metadata.tables


context.configure(
    connection=connection,
    target_metadata=owner.metadata,
    version_table=owner.version_table,
    include_name=is_owned,
    transactional_ddl=True,
    render_as_batch=connection.dialect.name == "sqlite",
    compare_type=True,
    autogenerate_plugins=["alembic.autogenerate.*", "alembic.ext.checkconstraint_byname"],
)
with context.begin_transaction():
    context.run_migrations()
