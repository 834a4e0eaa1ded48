"""Health, and the browsable documentation; the only endpoints open to strangers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import flask_swagger_ui
from flask import Blueprint, Response, jsonify, send_from_directory
from sqlalchemy.exc import SQLAlchemyError
from werkzeug.exceptions import NotFound

from sparewell.app.owners import owners_of_tables
from sparewell.database.migrate import MigrationError, status
from sparewell.edge.context import services
from sparewell.edge.errors import problem_response

blueprint = Blueprint("health", __name__, url_prefix="/health")
documentation = Blueprint("documentation", __name__, url_prefix="/docs")

_VIEWER = Path(flask_swagger_ui.__file__).parent / "dist"
_FILES = frozenset({"swagger-ui.css", "swagger-ui-bundle.js"})
_POLICY = (
    "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; "
    "frame-ancestors 'none'"
)
_PAGE = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><title>Sparewell: the API</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="stylesheet" href="docs/swagger-ui.css"></head>
<body><div id="api"></div>
<script src="docs/swagger-ui-bundle.js"></script><script src="docs/start.js"></script></body>
</html>
"""
_START = 'SwaggerUIBundle({url: "/openapi.json", dom_id: "#api", validatorUrl: null});\n'


@blueprint.get("/live")
def live() -> Any:
    """Say that the process answers."""
    return jsonify(status="live")


@blueprint.get("/ready")
def ready() -> Any:
    """Say whether the database can be used, has room, and has the tables of this program."""
    found = services()
    try:
        behind = [
            state.owner
            for state in status(found.database, owners_of_tables(found.declared))
            if not state.is_current
        ]
    except (SQLAlchemyError, MigrationError):
        return problem_response(503, "the database cannot be reached", slug="not-ready")
    if behind:
        return problem_response(
            503,
            f"the tables of {', '.join(behind)} are not those of this program: sparewell migrate",
            slug="not-ready",
        )
    if found.database.is_short_of_room:
        return problem_response(
            503, "the disk is nearly full; make room for the database", slug="storage-full"
        )
    return jsonify(status="ready", database=found.database.url.get_backend_name())


@documentation.get("")
def page() -> Response:
    """Serve the page that shows the OpenAPI document; it fetches nothing from elsewhere."""
    return _own(_PAGE, "text/html")


@documentation.get("/start.js")
def start() -> Response:
    """Serve the script that starts the viewer, apart from the page, so that no inline one runs."""
    return _own(_START, "text/javascript")


@documentation.get("/<file>")
def file(file: str) -> Response:
    """Serve the viewer's two files."""
    if file not in _FILES:
        raise NotFound
    response = send_from_directory(_VIEWER, file)
    response.headers["Content-Security-Policy"] = _POLICY
    return response


def _own(text: str, media_type: str) -> Response:
    response = Response(text, mimetype=media_type)
    response.headers["Content-Security-Policy"] = _POLICY
    return response
