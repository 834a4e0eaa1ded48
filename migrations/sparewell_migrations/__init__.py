"""The Alembic environment for every owner of tables, and the core's revisions."""
