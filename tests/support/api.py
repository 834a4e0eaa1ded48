"""A client of the service in the same process, and the contract's own sample workshop."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from flask import Flask

BODY = {
    "barrel_bore": "8.0 mm",
    "bar_height": "0.9 mm",
    "nipple_diameter": "6.4 mm",
    "barrel_depth": "62 mm",
}
# Closes a job whose steps nobody ticked off.
ANYWAY = {"anyway": "the steps were done on paper"}


@dataclass(frozen=True)
class Reply:
    """What came back."""

    status: int
    body: Any
    headers: Any
    text: str
    data: bytes = b""


class Api:
    """Calls the service as a script would."""

    def __init__(self, app: Flask, token: str | None) -> None:
        self.app = app
        self.token = token
        self._client = app.test_client()

    def call(
        self, method: str, path: str, body: Any = None, *, raw: Any = None, **headers: str
    ) -> Reply:
        """Send one request; `headers` are given with underscores for hyphens."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.token is not None:
            sent.setdefault("Authorization", f"Bearer {self.token}")
        data = raw
        if body is not None:
            data = json.dumps(body)
        if data is not None:
            sent.setdefault("Content-Type", "application/json")
        answer = self._client.open(path, method=method, data=data, headers=sent)
        data = answer.get_data()
        text = data.decode(errors="replace")
        is_json = "json" in (answer.content_type or "")
        document = json.loads(text) if is_json and text else None
        return Reply(answer.status_code, document, answer.headers, text, data)

    def get(self, path: str, **headers: str) -> Reply:
        """GET."""
        return self.call("GET", path, **headers)

    def post(self, path: str, body: Any = None, **headers: str) -> Reply:
        """POST, an empty object by default."""
        return self.call("POST", path, {} if body is None else body, **headers)

    def patch(self, path: str, body: Any, **headers: str) -> Reply:
        """PATCH with the tag the resource has now, unless one is given."""
        if "If_Match" not in headers:
            headers["If_Match"] = self.get(path).headers["ETag"]
        return self.call("PATCH", path, body, **headers)

    def stock(self, quantity: int = 10, **more: Any) -> dict[str, Any]:
        """Make the sample drawer, part and lot where they are missing; return a new lot."""
        self.post("/v1/drawers", {"code": "A3"})
        self.post(
            "/v1/parts",
            {
                "number": "SAC-15-STR",
                "kind": "sac",
                "name": "straight sac 15",
                "material": "latex",
                "counted_by": "piece",
                "dimensions": {
                    "outside_diameter": "15/64 in",
                    "inside_diameter": "5.05 mm",
                    "length": "75 mm",
                },
            },
        )
        lot = {
            "part": "SAC-15-STR",
            "drawer": "A3",
            "quantity": quantity,
            "measured": {"outside_diameter": "5.9 mm"},
        }
        reply = self.post("/v1/lots", lot | more)
        assert reply.status == 201, reply.text
        return dict(reply.body)

    def pen(self, **readings: Any) -> str:
        """Put the sample pen on the bench; return its number."""
        pen = {
            "called": "olive lever pen",
            "filling_system": "lever",
            "materials": ["celluloid"],
            "readings": BODY | readings,
        }
        reply = self.post("/v1/pens", pen)
        assert reply.status == 201, reply.text
        return str(reply.body["number"])

    def job(self, **readings: Any) -> str:
        """Put the sample pen on the bench and open a job; return the job's number."""
        job = self.post("/v1/jobs", {"pen": self.pen(**readings)})
        assert job.status == 201, job.text
        return str(job.body["number"])
