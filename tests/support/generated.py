"""Requests that schemathesis makes of the service's own OpenAPI document, sent in process."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

import pytest
import schemathesis
from flask import Flask
from schemathesis import engine
from schemathesis.engine import events
from schemathesis.transport.wsgi import WSGITransport

from support.api import BODY

JOBS = [f"JOB-{number:04d}" for number in range(1, 11)]
ORDERS = [f"ORD-{number:04d}" for number in range(1, 9)]
PHASES = ("examples", "coverage", "fuzzing", "stateful")

# What is in the sample workshop, so that many a request finds its object.
KNOWN: dict[str, list[Any]] = {
    "path.lot_id": [1],
    "path.reservation_id": list(range(1, 21)),
    "path.group_id": list(range(1, 5)),
    "path.import_id": list(range(1, 5)),
    "path.photograph_id": [1, 2],
    "path.plural": ["lots", "parts", "pens"],
    "path.code": ["A3", "B1"],
    "path.number": ["SAC-15-STR", "PEN-0001", "DON-0001", *JOBS, *ORDERS],
    "path.supplier_id": [1],
    "path.purchase_id": [1],
    "path.offer_id": [1],
    "path.parcel_id": [1],
    "path.name": ["sac", "sac.end_gap", "as568"],
    "header.If-Match": ["*"],
    "body.part": ["SAC-15-STR"],
    "body.drawer": ["A3", "B1"],
    "body.kind": ["sac", "o_ring", "gasket"],
    "body.pen": ["PEN-0001"],
    "body.filling_system": ["lever", "vacumatic"],
    "body.lot": [1],
    "body.supplier": [1],
    "body.why": ["sold out"],
    "body.quantity": [1],
}

# A good request for each address whose bodies chance seldom gets right, put into the document as
# its example: what is answered to it is held against the document like everything else.
_LOT = {"part": "SAC-15-STR", "drawer": "A3", "quantity": 3, "cost": "8.50", "made_on": "2026-Q1"}
_OFFER = {"part": "SAC-15-STR", "prices": [{"packs": 1, "price": "3.00"}]}
_GASKET = {"backing_washer": "8.2 mm", "sheet_length": "100 mm", "sheet_width": "50 mm"}
_RING = {"inside_diameter": "5 mm", "cross_section": "1 mm"}
_GLAND = {"gland": "rod", "bore": "9 mm", "rod": "5 mm", "ring": _RING}
_PACKING = {"bore": "8 mm", "rod": "3 mm", "seat_depth": "2 mm"}
_SPRING = {
    "wire_diameter": "0.5 mm",
    "outside_diameter": "5 mm",
    "total_coils": 12,
    "free_length": 30,
}
_BAR = {"barrel_depth": "62 mm", "barrel_bore": "8 mm"}
_FIT = {
    "gasket": _GASKET,
    "head_washer": _GASKET,
    "o_ring": _GLAND,
    "packing": _PACKING,
    "pressure_bar": _BAR,
    "sac": BODY,
    "spring": _SPRING,
}
GOOD: dict[str, Any] = {
    "/v1/lots": _LOT,
    "/v1/parts": {"number": "RING-5", "kind": "o_ring", "dimensions": _RING},
    "/v1/pens": {"called": "lever pen", "filling_system": "lever", "readings": BODY},
    "/v1/pens/{number}/readings": {"readings": {"barrel_bore": {"value": 8, "spread": 0}}},
    "/v1/jobs/{number}/reservations": {"lot": 1, "quantity": 1},
    "/v1/suppliers/{supplier_id}/offers": _OFFER,
    "/v1/orders": {"supplier": 1, "lines": [{"offer": 1, "packs": 1}]},
    "/v1/orders/{number}/parcels": {"lines": [{"line": 1, "drawer": "A3", "quantity": 1}]},
    "/v1/orders/{number}/cancel": {"why": "sold out"},
    "/v1/calculators/demand_forecast": {"history": "0 0 1"},
    "/v1/calculators/reorder_point": {"policy": "poisson", "mean_demand": 1},
    "/v1/donors/{number}/components": {"components": [{"kind": "feed"}]},
    "/v1/filling-systems": {
        "name": "bulb",
        "title": "bulb at the tail",
        "needs": [{"kind": "sac", "seals_where": "on the nipple", "calculator": "sac"}],
        "readings": [{"name": "nipple_diameter"}],
        "steps": [{"name": "fit"}],
    },
    "/v1/jobs/{number}/needs": {"kind": "clip", "seals_where": "none: on the cap"},
    "/v1/reservations/{reservation_id}/spoil": {"quantity": 1, "reserve_next": True},
    "/v1/jobs/{number}/timers": {"what": "shellac sets", "minutes": 30},
    "/v1/lots/{lot_id}/move": {"drawer": "B1", "quantity": 1},
    "/v1/drawers/{code}/counts": {"counts": [{"lot": 1, "counted": 900}]},
    "/v1/purchases": {"price": "40.00", "lines": [{"pen": "PEN-0001"}]},
    "/v1/donors": {"called": "wreck", "components": [{"kind": "nib", "state": "present"}]},
    **{f"/v1/fits/{name}": body for name, body in _FIT.items()},
    **{f"/v1/calculators/{name}": body for name, body in _FIT.items()},
    "/v1/calculators/fill": {"system": "sac", "sac_volume_ml": 1.3, "water_grams": "0.5"},
    "/v1/calculators/flush_mix": {"ammonia_percent": 5, "volume_ml": 100, "material": "steel"},
    "/v1/calculators/line_width": {"width": "0.5 mm"},
    "/v1/calculators/ring_identity": _RING,
    "/v1/calculators/shelf_life": {"material": "latex", "made_on": "2024-Q1"},
}

# Well formed and yet refused, as the contract has it: 422 for what is impossible or not there,
# which no schema can say; 412 and 428 for the tag of a PATCH (RFC 9110 section 13, RFC 6585).
REFUSALS = {"POST": ["422"], "PATCH": ["412", "422", "428"]}
USUAL = ["2xx", "304", "401", "403", "404", "409"]


@dataclass
class Found:
    """What came of a run."""

    seed: int
    requests: int = 0
    operations: set[str] = field(default_factory=set)
    answers: Counter[tuple[str, int]] = field(default_factory=Counter)
    phases: set[str] = field(default_factory=set)
    deviations: dict[tuple[str, ...], str] = field(default_factory=dict)

    def succeeded(self) -> set[str]:
        """Return the operations that did what they were asked at least once."""
        return {label for label, status in self.answers if 200 <= status < 300}


def send_generated(
    app: Flask,
    token: str,
    *,
    seed: int,
    deterministic: bool,
    examples: int,
    without_coverage: str | None,
    monkeypatch: pytest.MonkeyPatch,
) -> Found:
    """Run every phase and every check of schemathesis over the whole document."""
    monkeypatch.setattr(WSGITransport, "send", _without_sockets(WSGITransport.send))
    found = Found(seed)
    monkeypatch.setattr(app, "wsgi_app", _each_from_elsewhere(app.wsgi_app, found))
    settings = _settings(token, examples, without_coverage)
    settings["seed"] = seed
    settings["generation"]["deterministic"] = deterministic
    config = schemathesis.Config.from_dict(settings)
    document = json.loads(app.test_client().get("/openapi.json").data)
    for path, body in GOOD.items():
        content = document["paths"][path]["post"]["requestBody"]["content"]
        content["application/json"]["examples"] = {"good": {"value": body}}
    found.operations = {
        f"{method.upper()} {path}"
        for path, operations in document["paths"].items()
        for method in operations.keys() & {"get", "post", "patch"}
    }
    schema = schemathesis.openapi.from_dict(document, config=config)
    schema.app = app
    for event in engine.from_schema(schema).execute():
        match event:
            case events.PhaseFinished():
                found.phases.add(event.phase.name.value)
            case events.ScenarioFinished():
                _note(found, event)
            case events.NonFatalError() | events.FatalError():
                raise AssertionError(f"schemathesis (seed {seed}) failed itself: {event}")
    return found


def _settings(token: str, examples: int, without_coverage: str | None) -> dict[str, Any]:
    operations: list[dict[str, Any]] = [
        {"include-method": method, **_accepting([*USUAL, *refusals])}
        for method, refusals in REFUSALS.items()
    ]
    operations += [
        # Narrows by lengths, and what a length in words comes to, no pattern can say.
        {"include-name": "GET /v1/lots", **_accepting([*USUAL, "422"])},
        {"include-name": "GET /v1/lots/total", **_accepting([*USUAL, "422"])},
        # A calculator's own operations stand in the document under its name written out, and this
        # address with that name in it is the same resource.
        {
            "include-name": "GET /v1/calculators/{name}",
            "checks": {
                "unsupported_method": {"enabled": False},
                "allow_header_conformance": {"enabled": False},
            },
        },
    ]
    if without_coverage:
        phases = {"coverage": {"enabled": False}}
        operations.append({"include-path-regex": without_coverage, "phases": phases})
    return {
        "headers": {"Authorization": f"Bearer {token}"},
        "continue-on-failure": True,
        "generation": {"max-examples": examples, "database": "none"},
        "phases": {name: {"enabled": True} for name in PHASES},
        # RFC 6585 section 3: a change without If-Match is 428; a faulty body is seen first.
        "checks": {
            "missing_required_header": {"expected-statuses": [422, 428]},
            "positive_data_acceptance": {"expected-statuses": USUAL},
        },
        "dictionaries": {
            name.replace(".", "-"): {"values": entries} for name, entries in KNOWN.items()
        },
        "parameters": {
            name: {"dictionary": name.replace(".", "-"), "probability": 0.7} for name in KNOWN
        },
        "operations": operations,
    }


def _accepting(statuses: Iterable[str]) -> dict[str, Any]:
    return {"checks": {"positive_data_acceptance": {"expected-statuses": list(statuses)}}}


def _without_sockets(send: Callable[..., Any]) -> Callable[..., Any]:
    """Drop the settings of sockets, which the probes of sign-in hand on and no app has."""

    def send_in_process(self: WSGITransport, case: Any, **options: Any) -> Any:
        for name in ("max_redirects", "verify", "cert", "proxies"):
            options.pop(name, None)
        return send(self, case, **options)

    return send_in_process


def _each_from_elsewhere(app: Callable[..., Any], found: Found) -> Callable[..., Any]:
    """Count the requests, and give each an address of its own: guesses are slowed down by it."""

    def call(environ: dict[str, Any], start_response: Callable[..., Any]) -> Any:
        found.requests += 1
        high, low = divmod(found.requests, 256)
        environ["REMOTE_ADDR"] = f"10.{high // 256}.{high % 256}.{low}"
        return app(environ, start_response)

    return call


def _note(found: Found, event: events.ScenarioFinished) -> None:
    recorder = event.recorder
    for case_id, interaction in recorder.interactions.items():
        operation = recorder.cases[case_id].value.operation
        # Other methods are tried at its address, too.
        if interaction.response and interaction.request.method == operation.method.upper():
            found.answers[operation.label, interaction.response.status_code] += 1
    for case_id, checks in recorder.checks.items():
        label = recorder.cases[case_id].value.operation.label
        for check in checks:
            if check.failure_info is not None:
                failure = check.failure_info.failure
                response = recorder.interactions[case_id].response
                told = (
                    f"{failure.message}\n{check.failure_info.code_sample[:2000]}\n"
                    f"{response.status_code} {response.content[:500]!r}"
                )
                found.deviations.setdefault((check.name, label, failure.title), told)
