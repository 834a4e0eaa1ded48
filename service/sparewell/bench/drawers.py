"""Drawers: what lies in each, making one, and counting one on the phone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from urllib.parse import quote

from flask import request
from sqlalchemy import select

from sparewell.bench.pages import Shown, blueprint, one_page, or_form_again, refuse, see, show
from sparewell.bench.pieces import bags_of, name_of_lot, promises_in_the_way
from sparewell.bench.typed import Typed, whole_or_text
from sparewell.edge.context import work
from sparewell.edge.errors import checked
from sparewell.errors import Problem, Refusal
from sparewell.handling import counting
from sparewell.handling.schemas import CountsSchema
from sparewell.lots.tables import Lot
from sparewell.places import operations as places
from sparewell.places.schemas import NewDrawerSchema
from sparewell.places.tables import Place, PlaceType

DRAWERS_ON_A_PAGE = 60
_COUNTED, _EXPECTED = "bag-", "expected-"


@blueprint.get("/drawers")
def drawers_page() -> Shown:
    """Show the drawers, with what lies in each."""
    return _drawers_page(Typed({}))


def _drawers_page(form: Typed) -> tuple[str, int]:
    statement = select(Place).where(Place.type == PlaceType.DRAWER)
    drawers, following = one_page(statement, Place.id, DRAWERS_ON_A_PAGE)
    lying = counting.lying_in(work().session, drawers)
    rows = [(drawer, lying.get(drawer.id, counting.Lying())) for drawer in drawers]
    return show("drawers.html", drawers=rows, following=following, form=form), form.status


@blueprint.post("/drawers")
def add_drawer() -> Shown:
    """Make a drawer."""
    form = Typed(request.form)
    with or_form_again(_drawers_page, form):
        body = checked(NewDrawerSchema(), form.filled("code", "note"))
        made = places.create_drawer(work(), **body)
    return see(f"/drawers/{quote(made.code)}", said="drawer")


@blueprint.get("/drawers/<identifier:code>")
def drawer_page(code: str) -> Shown:
    """Show one drawer with its bags."""
    drawer = places.find_drawer(work().session, code)
    return show("drawer.html", drawer=drawer, bags=bags_of(_lots_in(drawer)))


def _lots_in(drawer: Place) -> Sequence[Lot]:
    statement = counting.lots_in(drawer).order_by(Lot.id)
    return work().session.scalars(statement).unique().all()


@blueprint.get("/drawers/<identifier:code>/count")
def count_page(code: str) -> Shown:
    """Ask what lies in a drawer."""
    return _count_page(code, Typed({}))


def _count_page(code: str, form: Typed) -> tuple[str, int]:
    drawer = places.find_drawer(work().session, code)
    lots = _lots_in(drawer)
    held = counting.held_of(work().session, lots)
    page = show(
        "count.html",
        drawer=drawer,
        lines=[(lot, name_of_lot(lot), held.get(lot.id, counting.PromisedOfLot())) for lot in lots],
        form=form,
        promises=promises_in_the_way(form.problems),
        named={lot.id: name_of_lot(lot) for lot in lots},
        to_release=request.form.getlist("release"),
    )
    return page, form.status


@dataclass(frozen=True)
class BagCount:
    """What was typed of one bag."""

    bag: int | str
    counted: int | str


@blueprint.post("/drawers/<identifier:code>/count")
def count_drawer(code: str) -> Shown:
    """Set the bags of a drawer to what was counted; what was left empty was not counted."""
    form, page = Typed(request.form), partial(_count_page, code)
    drawer = places.find_drawer(work().session, code)
    counts = [
        BagCount(whole_or_text(bag), whole_or_text(typed))
        for bag, typed in form.of(_COUNTED).items()
    ]
    now = {lot.id: lot.in_hand for lot in _lots_in(drawer)}
    faults = _changed_meanwhile(form, now, counts) or _unexplained(form, now, counts)
    if faults:
        refuse(page, form, faults)

    def located(refusal: Refusal) -> dict[str, str]:
        return {
            f"{_COUNTED}{counts[position].bag}": said
            for position, said in _by_position(refusal.problems)
            if position < len(counts)
        }

    with or_form_again(page, form, located):
        body = {
            "counts": [{"lot": each.bag, "counted": each.counted} for each in counts],
            "reason": form["reason"],
            "release": [whole_or_text(each) for each in request.form.getlist("release")],
        }
        counting.count_drawer(work(), drawer, **checked(CountsSchema(), body))
    return see(f"/drawers/{quote(code)}", said="counted")


def _changed_meanwhile(
    form: Typed, now: Mapping[int, int], counts: Sequence[BagCount]
) -> dict[str, str]:
    """Return where pieces came or went while they were counted: that count tells nothing now."""
    faults = {}
    for each in counts:
        seen, is_now = form[f"{_EXPECTED}{each.bag}"], _in_hand(now, each)
        if is_now is not None and seen and whole_or_text(seen) != is_now:
            faults[f"{_COUNTED}{each.bag}"] = (
                f"{seen} were expected when you began, and {is_now} are now: somebody took or "
                "brought some meanwhile. Count this bag again."
            )
    return faults


def _unexplained(form: Typed, now: Mapping[int, int], counts: Sequence[BagCount]) -> dict[str, str]:
    """Return where a difference lacks its reason: the ledger should say more than a number."""
    differ = [
        f"{each.counted - is_now:+d}"
        for each in counts
        if isinstance(each.counted, int)
        and (is_now := _in_hand(now, each)) is not None
        and each.counted != is_now
    ]
    if not differ or form["reason"]:
        return {}
    return {"reason": f"say what you make of the difference ({', '.join(differ)})"}


def _in_hand(now: Mapping[int, int], count: BagCount) -> int | None:
    return now.get(count.bag) if isinstance(count.bag, int) else None


def _by_position(problems: Sequence[Problem]) -> list[tuple[int, str]]:
    found = []
    for each in problems:
        steps = each.pointer.strip("/").split("/")
        if steps[0] == "counts" and len(steps) > 1 and steps[1].isdecimal():
            is_promised = "reservation" in each.more
            said = "more of it is promised than this leaves" if is_promised else each.detail
            found.append((int(steps[1]), said))
    return found
