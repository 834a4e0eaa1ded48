"""Finding by size: what lies nearest to a dimension, in drawers and in donors, and the ruler."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Final

from flask import request

from sparewell.bench import size_ruler
from sparewell.bench.pages import Shown, blueprint, show
from sparewell.bench.pieces import (
    ListedBag,
    bags_of,
    choices_of_kinds,
    title_of,
    titles_of_dimensions,
)
from sparewell.bench.typed import Typed
from sparewell.edge.context import work
from sparewell.extend.declarations import PartKind
from sparewell.ledger import sizes
from sparewell.measure.length import LengthError, millimetres, parse_length
from sparewell.measure.wording import millimetres_text

SPANS_MONTHS: Final = ("3", "6", "12", "24")
USUAL_SPAN_MONTHS: Final = "6"
USUAL_TOLERANCE: Final = "0.2 mm"
MOST_SHOWN: Final = 40
_DAYS_OF_A_MONTH = 30.44
_UNPROCESSABLE = 422


@blueprint.get("/find")
def find_page() -> Shown:
    """Find by kind and dimension, nearest first."""
    form = Typed(request.args)
    kind = work().declared.kinds.get(form["kind"])
    if kind is None:
        page = show("find.html", kinds=choices_of_kinds(), kind=None, form=form)
        return page, _UNPROCESSABLE if form["kind"] else 200
    dimensions = dict(titles_of_dimensions(kind))
    dimension = form["dimension"] if form["dimension"] in dimensions else kind.led_by
    ideal, tolerance, form = _read(form)
    months = form["months"] if form["months"] in SPANS_MONTHS else USUAL_SPAN_MONTHS
    window = (ideal, tolerance) if ideal is not None and dimension == kind.led_by else None
    page = show(
        "find.html",
        kinds=choices_of_kinds(),
        kind=kind,
        title=title_of(kind.name),
        form=form,
        dimension=dimension,
        dimensions=list(dimensions.items()),
        tolerance=form["tolerance"] or USUAL_TOLERANCE,
        is_asked=ideal is not None,
        found=[] if ideal is None else _found(kind, dimension, ideal, tolerance),
        most_shown=MOST_SHOWN,
        lead_title=dimensions[kind.led_by],
        ruler=_ruler(kind, months, window),
        drawn=size_ruler,
        months=months,
        spans=[(each, f"{each} months") for each in SPANS_MONTHS],
    )
    return page, form.status


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


def _found(
    kind: PartKind, dimension: str, ideal: int, tolerance: int
) -> list[tuple[str, ListedBag]]:
    """Return the bags within the tolerance, each with how far it is from what was looked for."""
    lots = sizes.nearest_in_hand(work().session, kind.name, dimension, ideal, tolerance, MOST_SHOWN)
    off = [_off(lot.dimensions[dimension] - ideal) for lot in lots]
    return list(zip(off, bags_of(lots), strict=True))


def _off(difference: int) -> str:
    if not difference:
        return "just so"
    return f"{millimetres_text(abs(difference))} {'larger' if difference > 0 else 'smaller'}"


def _ruler(kind: PartKind, months: str, window: tuple[int, int] | None) -> size_ruler.Ruler | None:
    """Return the ruler along the dimension that the kind is looked up by."""
    session, lead = work().session, kind.led_by
    since = work().now - timedelta(days=int(months) * _DAYS_OF_A_MONTH)
    return size_ruler.ruler(
        _in_millimetres(sizes.free_by_size(session, kind.name, lead)),
        _in_millimetres(sizes.used_by_size(session, kind.name, lead, since)),
        window and (millimetres(max(0, window[0] - window[1])), millimetres(sum(window))),
    )


def _in_millimetres(pieces: Mapping[int, int]) -> dict[float, int]:
    return {millimetres(size): number for size, number in pieces.items()}
