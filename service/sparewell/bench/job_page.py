"""What the page of a job shows, put together from the API."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sparewell.bench.asking import address, every, get
from sparewell.bench.wording import link

MOST_LINES = 30


def gather(number: str) -> dict[str, Any]:
    """Return everything the page of a job needs. Raises :class:`Refused`."""
    job = get(address("jobs", number))
    pen = get(address("pens", job["pen"]))
    is_open = job["state"] == "open"
    plan = get(address("jobs", number, "plan")) if is_open else None
    reservations = every("/v1/reservations", "reservations", job=job["number"])
    movements = every("/v1/movements", "movements", job=job["number"])
    planned = {need["id"]: need for need in plan["needs"]} if plan else {}
    return {
        "job": job,
        "pen": pen,
        "is_open": is_open,
        "needs": [need | {"plan": planned.get(need["id"], {})} for need in job["needs"]],
        "complete": plan["complete"] if plan else None,
        "cautions": _each_once(plan["cautions"]) if plan else [],
        "fetch_list": get(address("jobs", number, "fetch-list"))["places"] if is_open else [],
        "promised": [each for each in reservations if each["promised"]],
        "used": [each for each in reservations if each["used"]],
        "bags": _bags(reservations),
        "lines": list(reversed(movements[-MOST_LINES:])),
        "worth": get(address("jobs", number, "worth")),
        "system": get(address("filling-systems", job["filling_system"])),
        "measure_again": {
            need["id"]: _measure(need, pen, job) for need in job["needs"] if need["calculator"]
        },
    }


def _each_once(cautions: list[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return cautions without repeats: several substances may ask for the same one."""
    return list({caution["caution"]: caution for caution in cautions}.values())


def _bags(reservations: list[Mapping[str, Any]]) -> dict[int, Any]:
    """Return the bags that the reservations are of."""
    return {lot: get(address("lots", lot)) for lot in {each["lot"] for each in reservations}}


def _measure(need: Mapping[str, Any], pen: Mapping[str, Any], job: Mapping[str, Any]) -> str:
    """Return where a need is sized by hand, with the pen's readings filled in."""
    reads = {reading: given for given, reading in need["reads"].items()}
    readings = {
        reads.get(name, name): reading["entered"] for name, reading in pen["readings"].items()
    }
    given = {name: value for name, value in need["given"].items() if isinstance(value, str)}
    taken = {declared["name"] for declared in _calculator(need)["inputs"]}
    said = {name: value for name, value in (readings | given).items() if name in taken}
    return link(f"/measure/{need['calculator']}", job=job["number"], **said)


def _calculator(need: Mapping[str, Any]) -> Mapping[str, Any]:
    found: Mapping[str, Any] = get(address("calculators", need["calculator"]))
    return found
