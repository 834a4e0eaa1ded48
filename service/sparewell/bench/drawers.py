"""Drawers: what lies in each, making one, and counting one on the phone."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from flask import request

from sparewell.bench.asking import Refused, address, ask, every, get, one_page
from sparewell.bench.pages import blueprint, form_key, see, show
from sparewell.bench.pieces import (
    bag_of,
    kinds_by_name,
    promises_in_the_way,
    title_of,
)
from sparewell.bench.typed import Typed, whole_or_text
from sparewell.edge.context import services

DRAWERS_ON_A_PAGE = 60
_COUNTED, _EXPECTED = "bag-", "expected-"
_UNPROCESSABLE = 422


@blueprint.get("/drawers")
def drawers_page() -> Any:
    """Show the drawers, with what lies in each."""
    return _drawers_page(Typed({}))


def _drawers_page(form: Typed) -> tuple[str, int]:
    drawers, following = one_page("/v1/drawers", "drawers", DRAWERS_ON_A_PAGE)
    rows = [_in_drawer(drawer) for drawer in drawers]
    return show("drawers.html", drawers=rows, following=following, form=form), form.status


def _in_drawer(drawer: dict[str, Any]) -> dict[str, Any]:
    lines = every(address("drawers", drawer["code"], "count-sheet"), "lines")
    return {
        **drawer,
        "bags": len(lines),
        "free": sum(line["in_hand"] - line["promised"] for line in lines),
        "promised": sum(line["promised"] for line in lines),
    }


@blueprint.post("/drawers")
def add_drawer() -> Any:
    """Make a drawer."""
    form = Typed(request.form)
    try:
        made = ask("POST", "/v1/drawers", form.filled("code", "note"), key=form_key()).document
    except Refused as refusal:
        return _drawers_page(form.refused(refusal))
    return see(f"/drawers/{quote(made['code'])}", said="drawer")


@blueprint.get("/drawers/<code>")
def drawer_page(code: str) -> Any:
    """Show one drawer with its bags."""
    kinds = kinds_by_name()
    today = services().clock().date()
    lots = [lot for lot in every("/v1/lots", "lots", place=code) if lot["in_hand"]]
    return show(
        "drawer.html",
        drawer=get(address("drawers", code)),
        bags=[bag_of(lot, kinds, today) for lot in lots],
    )


@blueprint.get("/drawers/<code>/count")
def count_page(code: str) -> Any:
    """Ask what lies in a drawer."""
    return _count_page(code, _sheet(code), Typed({}))


def _sheet(code: str) -> list[dict[str, Any]]:
    kinds = kinds_by_name()
    return [
        {**line, "name": line["part"] or title_of(kinds, line["kind"])}
        for line in every(address("drawers", code, "count-sheet"), "lines")
    ]


def _count_page(code: str, lines: list[dict[str, Any]], form: Typed) -> tuple[str, int]:
    page = show(
        "count.html",
        drawer=get(address("drawers", code)),
        lines=lines,
        form=form,
        promises=promises_in_the_way(form.errors),
        named={line["lot"]: line["name"] for line in lines},
        to_release=request.form.getlist("release"),
    )
    return page, form.status


@blueprint.post("/drawers/<code>/count")
def count_drawer(code: str) -> Any:
    """Set the bags of a drawer to what was counted; what was left empty was not counted."""
    form, lines = Typed(request.form), _sheet(code)
    counts = [
        {"lot": whole_or_text(name.removeprefix(_COUNTED)), "counted": whole_or_text(typed)}
        for name, typed in form.values.items()
        if name.startswith(_COUNTED) and typed
    ]
    faults = _changed_meanwhile(form, lines, counts) or _unexplained(form, lines, counts)
    if faults:
        return _count_page(code, lines, form.with_faults(faults, _UNPROCESSABLE))
    release = [whole_or_text(each) for each in request.form.getlist("release")]
    body = {"counts": counts, "reason": form["reason"], "release": release}
    try:
        ask("POST", address("drawers", code, "counts"), body, key=form_key())
    except Refused as refusal:
        located = {
            f"{_COUNTED}{counts[position]['lot']}": detail
            for position, detail in _by_position(refusal)
            if position < len(counts)
        }
        return _count_page(code, _sheet(code), form.refused(refusal, located))
    return see(f"/drawers/{quote(code)}", said="counted")


def _changed_meanwhile(
    form: Typed, lines: list[dict[str, Any]], counts: list[dict[str, Any]]
) -> dict[str, str]:
    """Return where pieces came or went while they were counted: that count tells nothing now."""
    faults = {}
    now = {line["lot"]: line["in_hand"] for line in lines}
    for each in counts:
        seen, is_now = form[f"{_EXPECTED}{each['lot']}"], now.get(each["lot"])
        if is_now is not None and seen and whole_or_text(seen) != is_now:
            faults[f"{_COUNTED}{each['lot']}"] = (
                f"{seen} were expected when you began, and {is_now} are now: somebody took or "
                "brought some meanwhile. Count this bag again."
            )
    return faults


def _unexplained(
    form: Typed, lines: list[dict[str, Any]], counts: list[dict[str, Any]]
) -> dict[str, str]:
    """Return where a difference lacks its reason: the ledger should say more than a number."""
    now = {line["lot"]: line["in_hand"] for line in lines}
    differ = [
        f"{each['counted'] - now[each['lot']]:+d}"
        for each in counts
        if isinstance(each["counted"], int)
        and each["lot"] in now
        and each["counted"] != now[each["lot"]]
    ]
    if not differ or form["reason"]:
        return {}
    return {"reason": f"say what you make of the difference ({', '.join(differ)})"}


def _by_position(refusal: Refused) -> list[tuple[int, str]]:
    found = []
    for error in refusal.errors:
        steps = str(error.get("pointer", "")).strip("/").split("/")
        if steps[0] == "counts" and len(steps) > 1 and steps[1].isdecimal():
            is_promised = "reservation" in error
            said = "more of it is promised than this leaves" if is_promised else error["detail"]
            found.append((int(steps[1]), said))
    return found
