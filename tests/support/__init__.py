"""What the tests share: a throw-away PostgreSQL, an API client, a workshop in miniature."""
