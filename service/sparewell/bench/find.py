"""Finding by size: what lies nearest to a dimension, in drawers and in donors, and the ruler."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from flask import request

from sparewell.bench import size_ruler
from sparewell.bench.asking import every
from sparewell.bench.pages import blueprint, show
from sparewell.bench.pieces import bag_of, kinds_by_name, title_of, titles_of_dimensions
from sparewell.bench.typed import Typed
from sparewell.edge.context import services
from sparewell.measure.length import LengthError, millimetres, parse_length
from sparewell.measure.wording import millimetres_text

SPANS_MONTHS: Final = ("3", "6", "12", "24")
USUAL_SPAN_MONTHS: Final = "6"
USUAL_TOLERANCE: Final = "0.2 mm"
MOST_SHOWN: Final = 40
# What leaves for good; a piece ruined at fitting is as gone as one that was fitted.
USED_UP: Final = ("fitted", "spoiled")
_DAYS_OF_A_MONTH = 30.44
_UNPROCESSABLE = 422

Lot = Mapping[str, Any]


@blueprint.get("/find")
def find_page() -> Any:
    """Find by kind and dimension, nearest first."""
    kinds = kinds_by_name()
    form = Typed(request.args)
    kind = kinds.get(form["kind"])
    if kind is None:
        page = show("find.html", kinds=_choices(kinds), kind=None, form=form)
        return page, _UNPROCESSABLE if form["kind"] else 200
    dimensions = titles_of_dimensions(kind)
    known = [name for name, _ in dimensions]
    dimension = form["dimension"] if form["dimension"] in known else kind["led_by"]
    ideal, tolerance, form = _read(form)
    lots = every("/v1/lots", "lots", kind=kind["name"])
    found = _nearest(lots, dimension, ideal, tolerance) if ideal is not None else []
    today = services().clock().date()
    months = form["months"] if form["months"] in SPANS_MONTHS else USUAL_SPAN_MONTHS
    page = show(
        "find.html",
        kinds=_choices(kinds),
        kind=kind,
        title=title_of(kinds, kind["name"]),
        form=form,
        dimension=dimension,
        dimensions=dimensions,
        tolerance=form["tolerance"] or USUAL_TOLERANCE,
        is_asked=ideal is not None,
        found=[(_off(lot, dimension, ideal or 0), bag_of(lot, kinds, today)) for lot in found],
        most_shown=MOST_SHOWN,
        lead_title=dict(dimensions)[kind["led_by"]],
        ruler=_ruler(kind["led_by"], lots, months, (dimension, ideal, tolerance)),
        drawn=size_ruler,
        months=months,
        spans=[(each, f"{each} months") for each in SPANS_MONTHS],
    )
    return page, form.status


def _choices(kinds: Mapping[str, Mapping[str, Any]]) -> list[tuple[str, str]]:
    return sorted(((name, title_of(kinds, name)) for name in kinds), key=lambda each: each[1])


def _read(form: Typed) -> tuple[int | None, int, Typed]:
    """Return the dimension and the tolerance in nanometres, and what was wrong with either."""
    if not form["size"]:
        return None, 0, form
    faults: dict[str, str] = {}
    ideal = tolerance = 0
    try:
        ideal = parse_length(form["size"])
    except LengthError as error:
        faults["size"] = str(error)
    try:
        tolerance = parse_length(form["tolerance"] or USUAL_TOLERANCE, zero_allowed=True)
    except LengthError as error:
        faults["tolerance"] = str(error)
    if faults:
        return None, 0, form.with_faults(faults, _UNPROCESSABLE)
    return ideal, tolerance, form


def _nanometres(lot: Lot, dimension: str) -> int | None:
    value = lot["dimensions"].get(dimension)
    return None if value is None else parse_length(value)


def _nearest(lots: Sequence[Lot], dimension: str, ideal: int, tolerance: int) -> list[Lot]:
    """Return what is in hand within the tolerance, nearest first, free before promised."""
    ranked = []
    for lot in lots:
        value = _nanometres(lot, dimension)
        if lot["in_hand"] and value is not None and abs(value - ideal) <= tolerance:
            ranked.append((lot["available"] == 0, abs(value - ideal), lot["id"], lot))
    return [lot for *_, lot in sorted(ranked, key=lambda each: each[:3])][:MOST_SHOWN]


def _off(lot: Lot, dimension: str, ideal: int) -> str:
    """Say how far a bag is from what was looked for."""
    difference = (_nanometres(lot, dimension) or 0) - ideal
    if not difference:
        return "just so"
    return f"{millimetres_text(abs(difference))} {'larger' if difference > 0 else 'smaller'}"


def _ruler(
    lead: str, lots: Sequence[Lot], months: str, asked: tuple[str, int | None, int]
) -> size_ruler.Ruler | None:
    """Return the ruler along the dimension that the kind is looked up by."""
    size_of = {lot["id"]: lot["dimensions"].get(lead) for lot in lots}
    free: Counter[float] = Counter()
    for lot in lots:
        if lot["available"] and size_of[lot["id"]] is not None:
            free[size_of[lot["id"]]] += lot["available"]
    used: Counter[float] = Counter()
    since = services().clock() - timedelta(days=int(months) * _DAYS_OF_A_MONTH)
    for verb in USED_UP:
        lines = every("/v1/movements", "movements", verb=verb, since=since.date().isoformat())
        for line in lines:
            size = size_of.get(line["lot"])
            if size is not None and datetime.fromisoformat(line["at"]) >= since:
                used[size] += line["pieces"]
    dimension, ideal, tolerance = asked
    window = None
    if ideal is not None and dimension == lead:
        window = millimetres(max(0, ideal - tolerance)), millimetres(ideal + tolerance)
    return size_ruler.ruler(free, used, window)
