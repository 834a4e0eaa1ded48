"""A fit written by hand, as one would without Sparewell: Flask, sqlite3, and nothing but the query.

It reads the same file, asks for the same two hundred lots with a range and a sort, ranks them by
the same rule, and answers twenty as JSON. `python -m support.peer FILE` says where it listens.
"""

from __future__ import annotations

import hashlib
import sqlite3
import sys
import threading
from typing import Any

import waitress
from flask import Flask, Response, abort, jsonify, request

THREADS = 8
_QUERY = """
    SELECT lot.id, lot.outside_diameter_nanometres, lot.inside_diameter_nanometres, lot.material,
           lot.made_from, lot.in_hand - lot.promised, part.number, place.code
    FROM lot JOIN place ON place.id = lot.place_id LEFT JOIN part ON part.id = lot.part_id
    WHERE lot.kind = 'sac' AND lot.has_available = 1
      AND (lot.condition IS NULL OR lot.condition <> 'offcut')
      AND lot.outside_diameter_nanometres BETWEEN ? AND ?
    ORDER BY abs(lot.outside_diameter_nanometres - ?), lot.made_from IS NULL, lot.made_from, lot.id
    LIMIT 200
"""
_64TH_MILLIMETRES = 25.4 / 64
_WALL_MILLIMETRES = 0.5
_MOST_STRETCH, _GOOD_STRETCH, _LEAST_STRETCH = 0.3, 0.2, 0.05
_SHOWN = 20


def judge(row: tuple[Any, ...], nipple: float, room: float, recommended: float) -> dict[str, Any]:
    """Return what is said of one lot: its verdict, its margins, and why."""
    lot, outside, inside, material, made, available, part, place = row
    outside /= 1_000_000
    inside = inside / 1_000_000 if inside else outside - 2 * _WALL_MILLIMETRES
    stretch = nipple / inside - 1
    if outside > room or stretch > _MOST_STRETCH:
        verdict = "refused"
    elif stretch < _LEAST_STRETCH:
        verdict = "loose"
    else:
        verdict = "fits" if stretch <= _GOOD_STRETCH else "tight"
    return {
        "lot": lot,
        "part": part,
        "place": place,
        "available": available,
        "material": material,
        "verdict": verdict,
        "margins": {"barrel": round(room - outside, 6), "stretch_percent": round(stretch * 100, 1)},
        "why": f"{outside:.3f} mm outside leaves {room - outside:.3f} mm, stretched {stretch:.1%}",
        "rank": (verdict != "fits", abs(round(outside / _64TH_MILLIMETRES * 2) / 2 - recommended)),
        "made": made or "9999",
    }


def make(file: str) -> Flask:
    """Return the application on a database file."""
    app = Flask("peer")
    own = threading.local()

    def database() -> sqlite3.Connection:
        if not hasattr(own, "connection"):
            own.connection = sqlite3.connect(file)
        found: sqlite3.Connection = own.connection
        return found

    @app.post("/fit")
    def fit() -> Response:
        token = request.headers["Authorization"].removeprefix("Bearer ")
        known = database().execute(
            "SELECT scope FROM token WHERE sha256 = ?",
            (hashlib.sha256(token.encode()).hexdigest(),),
        )
        if known.fetchone() is None:
            abort(401)
        body = request.get_json()
        bore, bar, nipple = (
            float(body[name].removesuffix(" mm"))
            for name in ("barrel_bore", "bar_height", "nipple_diameter")
        )
        room = bore - 2 * bar
        recommended = min(room, nipple) // _64TH_MILLIMETRES
        low = nipple / (1 + _MOST_STRETCH)
        ideal = recommended * _64TH_MILLIMETRES
        bounds = [round(value * 1_000_000) for value in (low, room, ideal)]
        rows = database().execute(_QUERY, bounds).fetchall()
        judged = [judge(row, nipple, room, recommended) for row in rows]
        judged.sort(key=lambda each: (each.pop("rank"), each.pop("made"), each["lot"]))
        fitting = [each for each in judged if each["verdict"] != "refused"]
        refused = [each for each in judged if each["verdict"] == "refused"]
        return jsonify(candidates=fitting[:_SHOWN], refused=refused[:_SHOWN])

    return app


def serve(file: str) -> None:
    """Serve until the process is ended."""
    server = waitress.create_server(make(file), host="127.0.0.1", port=0, threads=THREADS)
    print(f"listens on http://127.0.0.1:{server.effective_port}", flush=True)  # noqa: T201
    server.run()


if __name__ == "__main__":
    serve(sys.argv[1])
