"""Putting the rooms together: one function, no globals, no database touched."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from datetime import datetime
from importlib import metadata

from flask import Flask, Response, request
from sqlalchemy.exc import IntegrityError
from werkzeug.exceptions import HTTPException

from sparewell.app import health
from sparewell.app.groups import GROUPS
from sparewell.app.owners import owners_of_tables
from sparewell.bench import views as bench
from sparewell.catalogue import views as catalogue
from sparewell.closing import views as closing
from sparewell.configuration import BODY_LIMIT, DEFAULT_LIMITS_BYTES
from sparewell.database.engine import Database
from sparewell.database.transaction import Busy, Silent, StorageFull
from sparewell.donors import views as donors
from sparewell.edge.api import Api
from sparewell.edge.context import EXTENSION, Services, utc_now
from sparewell.edge.errors import http_response, problem_response, refusal_response
from sparewell.edge.gate import Gate
from sparewell.edge.hosts import LOOPBACK_NAMES
from sparewell.edge.raw_body import RAW_LIMITS
from sparewell.edge.reading import stop_reading
from sparewell.edge.request_number import present_request_number
from sparewell.edge.sign_in import sign_in
from sparewell.edge.strict_json import StrictJSONProvider
from sparewell.edge.throttle import FailedAttempts
from sparewell.edge.unit_of_work import RequestInProgress
from sparewell.errors import Refusal
from sparewell.exports.views import export_blueprint
from sparewell.extend.host import Declarations
from sparewell.filling_systems import views as filling_systems
from sparewell.fitting.views import calculator_blueprint
from sparewell.handling import views as handling
from sparewell.history import views as history
from sparewell.imports import views as imports
from sparewell.jobs import views as jobs
from sparewell.learned import views as learned
from sparewell.ledger import views as ledger
from sparewell.lots import views as lots
from sparewell.orders import views as orders
from sparewell.outcomes import views as outcomes
from sparewell.pens import views as pens
from sparewell.photographs import views as photographs
from sparewell.places import views as places
from sparewell.plans import views as plans
from sparewell.purchases import views as purchases
from sparewell.reorder import views as reorder
from sparewell.reservations import views as reservations
from sparewell.settings import views as settings
from sparewell.suppliers import views as suppliers
from sparewell.timers import views as timers
from sparewell.tonight import views as tonight
from sparewell.triage import views as triage

_log = logging.getLogger(__name__)

ROOMS = (
    catalogue,
    places,
    lots,
    handling,
    ledger,
    reservations,
    donors,
    pens,
    purchases,
    jobs,
    plans,
    filling_systems,
    timers,
    closing,
    outcomes,
    learned,
    history,
    suppliers,
    orders,
    reorder,
    tonight,
    triage,
    imports,
    photographs,
    settings,
)
PUBLIC_ENDPOINTS = frozenset(
    {
        "health.live",
        "health.ready",
        "api-docs.openapi_json",
        "documentation.page",
        "documentation.file",
        "documentation.start",
    }
)


def create_app(
    database: Database,
    declared: Declarations,
    *,
    clock: Callable[[], datetime] = utc_now,
    host_names: frozenset[str] = LOOPBACK_NAMES,
    failed_attempts: FailedAttempts | None = None,
    body_limit_bytes: int = DEFAULT_LIMITS_BYTES[BODY_LIMIT],
    raw_limits_bytes: Mapping[str, int] = DEFAULT_LIMITS_BYTES,
) -> Flask:
    """Return the service as a WSGI application."""
    app = Flask("sparewell", static_folder=None)
    app.json = StrictJSONProvider(app)
    app.config.update(
        MAX_CONTENT_LENGTH=body_limit_bytes,
        MAX_FORM_MEMORY_SIZE=body_limit_bytes,
        MAX_FORM_PARTS=100,
        PROPAGATE_EXCEPTIONS=False,
    )
    app.config[RAW_LIMITS] = raw_limits_bytes
    app.url_map.strict_slashes = True
    app.extensions[EXTENSION] = Services(
        database, declared, clock, failed_attempts or FailedAttempts()
    )
    app.before_request(lambda: bench.enter_page() if bench.is_page() else sign_in(PUBLIC_ENDPOINTS))
    app.teardown_appcontext(stop_reading)
    app.after_request(_forbid_caching)
    app.after_request(bench.as_page)
    _answer_errors(app)
    api = Api(app, title="Sparewell", version=metadata.version("sparewell"), groups=GROUPS)
    for blueprint in (
        *(room.blueprint for room in ROOMS),
        export_blueprint(owners_of_tables(declared)),
        calculator_blueprint(declared),
    ):
        api.register_blueprint(blueprint)
    app.register_blueprint(health.blueprint)
    app.register_blueprint(health.documentation)
    app.register_blueprint(bench.blueprint)
    app.wsgi_app = Gate(app.wsgi_app, host_names)  # type: ignore[method-assign]
    return app


def _answer_errors(app: Flask) -> None:
    """Give every kind of failure its problem document; none shows SQL or a path."""
    retry = {"Retry-After": "1"}

    def busy(_error: Exception) -> Response:
        return problem_response(
            503, "the database is busy; nothing was done, try again", slug="busy", headers=retry
        )

    def silent(_error: Exception) -> Response:
        # A connection lost inside COMMIT leaves the outcome unknown: do not claim either.
        return problem_response(
            503,
            "the database did not answer; repeat the request with its Idempotency-Key, which has "
            "one effect whatever became of this one",
            slug="database-silent",
            headers=retry,
        )

    def full(_error: Exception) -> Response:
        return problem_response(
            503, "the disk is full; nothing was done", slug="storage-full", headers=retry
        )

    def in_progress(_error: Exception) -> Response:
        return problem_response(
            409,
            "the first request with this Idempotency-Key is still running",
            slug="request-in-progress",
            headers=retry,
        )

    def taken(_error: Exception) -> Response:
        return problem_response(
            409, "somebody else did the same at this moment; look, and try again"
        )

    def failed(error: Exception) -> Response:
        if isinstance(error, HTTPException):
            return http_response(error)
        fields = {"request": present_request_number()}
        _log.error("unexpected failure", exc_info=error, extra={"fields": fields})
        return problem_response(500, "something is broken here; the log says what")

    app.register_error_handler(Refusal, refusal_response)
    app.register_error_handler(Busy, busy)
    app.register_error_handler(Silent, silent)
    app.register_error_handler(StorageFull, full)
    app.register_error_handler(RequestInProgress, in_progress)
    app.register_error_handler(IntegrityError, taken)
    app.register_error_handler(Exception, failed)


def _forbid_caching(response: Response) -> Response:
    if request.endpoint not in PUBLIC_ENDPOINTS:
        response.headers.setdefault("Cache-Control", "no-store")
    return response
