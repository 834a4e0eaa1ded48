"""The one search: it uses its index, and lists ask the database a fixed number of times."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from sparewell.database.engine import Database
from sparewell.extend.declarations import Range
from sparewell.extend.host import Declarations
from sparewell.extend.inputs import SettingValues
from sparewell.lots import search
from sparewell.lots.ageing import fit_by, in_date
from sparewell.lots.search import MOST_JUDGED, MOST_WALKED
from sparewell.lots.settings import AGEING_SCHEME
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place
from support.api import BODY, Api
from support.many_lots import NOW, add, fill, measured, nominal

pytestmark = pytest.mark.differs

ROWS = 5000
# Signing in, settings, the nearest, how far off donors are, what is fixed in theirs, what is wholly
# promised and to whom, the misses, and the rows of those that are shown.
MOST_STATEMENTS_OF_A_FIT = 8


def _plan(database: Database, statement: str, values: Any) -> list[tuple[Any, Any, str]]:
    """Return each step of a statement's plan: itself, what it is part of, and what it does."""
    with database.engine.connect() as connection:
        if database.is_sqlite:
            rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values).all()
            return [(row[0], row[1], row[3]) for row in rows]
        found = connection.exec_driver_sql(f"EXPLAIN (FORMAT JSON) {statement}", values)
        return list(_nodes(found.scalar_one()[0]["Plan"], None))


def _nodes(node: dict[str, Any], above: int | None) -> Iterator[tuple[int, int | None, str]]:
    yield id(node), above, f"{node['Node Type']} {node.get('Index Name', '')}"
    for each in node.get("Plans", ()):
        yield from _nodes(each, id(node))


def _asked(database: Database, action: Callable[[], object]) -> list[tuple[str, Any]]:
    """Return every statement that an action sends, with its values."""
    asked: list[tuple[str, Any]] = []

    def note(*call: Any) -> None:
        asked.append((call[2], call[3]))

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        action()
    finally:
        event.remove(database.engine, "before_cursor_execute", note)
    return asked


@pytest.mark.parametrize("said", [measured, nominal])
def test_the_walks_of_a_fit_are_read_off_their_indexes(
    api: Api, database: Database, said: Callable[[int], dict[str, object]]
) -> None:
    """Each walk, of what fits and of the misses, goes along one index and sorts nothing."""
    fill(database, ROWS, said)
    asked = _asked(database, lambda: api.post("/v1/fits/sac", BODY))
    walks = [(text, values) for text, values in asked if "AS lead" in text]
    assert walks
    for text, values in walks:
        plan = _plan(database, text, values)
        along = [step for step in plan if "ix_lot_fit_outside_diameter" in step[2]]
        assert any("_up" in does for *_, does in along)
        assert any("_down" in does for *_, does in along)
        # SQLite says beside a walk that it is sorted, PostgreSQL above it; what that sorts
        # incrementally are the few of one size.
        places = {above for _, above, _ in along}
        does_there = [
            does
            for number, above, does in plan
            if (above if database.is_sqlite else number) in places
        ]
        sorting = ("USE TEMP B-TREE", "Sort", "Bitmap")
        assert not any(does.startswith(sorting) for does in does_there), plan


KNOWN = st.none() | st.integers(1, 9)
LOTS = st.lists(
    st.builds(
        dict,
        outside_diameter_nanometres=KNOWN,
        inside_diameter_nanometres=KNOWN,
        made_from=st.none() | st.dates(date(2020, 2, 28), date(2020, 3, 1)),
        in_hand=st.integers(0, 2),
        condition=st.sampled_from([None, "as new", "offcut"]),
    ),
    max_size=40,
)


@contextmanager
def _with_lots(database: Database, lots: Iterable[dict[str, Any]]) -> Iterator[Session]:
    """Yield a session in which these lots are there, and nowhere else."""
    with Session(database.engine) as session:
        place = Place(code="X", type="drawer", note="", created_at=NOW)
        session.add(place)
        session.flush()
        common = {"kind": "sac", "place_id": place.id, "arrived_at": NOW}
        for facts in lots:
            session.add(Lot(**{**common, **facts, "has_available": facts["in_hand"] > 0}))
        session.flush()
        yield session
        session.rollback()


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lots=LOTS, ideal=st.integers(0, 10), low=st.integers(1, 9), high=KNOWN, least=KNOWN)
def test_two_walks_find_what_sorting_everything_finds(
    database: Database,
    lots: list[dict[str, Any]],
    ideal: int,
    low: int,
    high: int | None,
    least: int | None,
) -> None:
    """The nearest are the same lots in the same order as when all in the box are put in order."""
    ranges = {"outside_diameter": Range(low, high), "inside_diameter": Range(least)}
    with _with_lots(database, lots) as session:
        found = search.nearest(session, "sac", "outside_diameter", ideal, ranges)
        every = session.scalars(select(Lot).where(Lot.has_available)).unique()
        inside = [
            (abs(outer - ideal), lot.made_from or date.max, lot.id)
            for lot in every
            if (outer := lot.outside_diameter_nanometres) is not None
            and low <= outer <= (high or outer)
            and (least is None or least <= (lot.inside_diameter_nanometres or 0))
            and lot.condition != "offcut"
        ]
        assert [lot.id for lot in found] == [each[-1] for each in sorted(inside)]


ENDS_OF_FEBRUARY = st.builds(date, st.integers(2012, 2028), st.just(2), st.just(28))


@pytest.mark.rest
@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    lots=st.lists(
        st.tuples(
            ENDS_OF_FEBRUARY | st.dates(date(2012, 1, 1), date(2028, 12, 31)),
            st.booleans(),
            st.sampled_from([None, "latex", "nbr", "pvc", "silicone"]),
        ),
        min_size=10,
        max_size=40,
    ),
    day=st.dates(date(2023, 1, 1), date(2033, 12, 31)) | st.just(date(2028, 2, 29)),
    scheme=st.sampled_from(["workshop", "iso2230", "arp5316"]),
)
def test_columns_tell_the_same_of_an_age_as_the_rule(
    database: Database,
    declared: Declarations,
    lots: list[tuple[date, bool, str | None]],
    day: date,
    scheme: str,
) -> None:
    """A lot is in date by its columns exactly where its rule says so, on leap days too."""
    values = SettingValues({AGEING_SCHEME.name: scheme})
    facts = [
        {
            "made_from": since if is_made else None,
            "arrived_at": NOW if is_made else datetime.combine(since, time(23, 59), UTC),
            "material": material,
            "in_hand": 1,
        }
        for since, is_made, material in lots
    ]
    with _with_lots(database, facts) as session:
        found = session.scalars(select(Lot.id).where(in_date(day, declared, values))).all()
        for lot in session.scalars(select(Lot)).unique():
            assert (lot.id in found) is not fit_by(lot, declared, values).is_past(day)


def _sacs(count: int, **facts: Any) -> Iterator[dict[str, Any]]:
    return ({"outside_diameter_nanometres": 5_950_000, **facts} for _ in range(count))


@pytest.mark.parametrize(
    "crowding",
    [
        {"made_from": date(2015, 1, 1)},
        {"material": "silicone"},
        {"material": "pvc"},
        {"condition": "offcut"},
    ],
    ids=["over age", "another material", "refused by the pen", "offcuts"],
)
def test_hundreds_that_will_not_do_never_hide_the_one_that_will(
    api: Api, database: Database, crowding: dict[str, Any]
) -> None:
    """Among three hundred bags of its very size the only one that would do is the first."""
    one = {"outside_diameter_nanometres": 5_950_000, "made_from": date(2026, 1, 1)}
    add(database, [*_sacs(300, **crowding), one])
    body = BODY | {"pen_materials": ["celluloid"], "materials": ["latex"]}
    fit = api.post("/v1/fits/sac", body).body
    assert [each["lot"] for each in fit["candidates"]] == [301]
    assert len(fit["refused"]) == (0 if "condition" in crowding else 20)


def test_the_material_a_need_wants_is_not_crowded_out(api: Api, database: Database) -> None:
    """A plan finds the one bag of latex among hundreds of silicone that nobody takes unasked."""
    add(database, [*_sacs(300, material="silicone"), *_sacs(1, made_from=date(2026, 1, 1))])
    (need,) = [
        each
        for each in api.get(f"/v1/jobs/{api.job()}/plan").body["needs"]
        if each["kind"] == "sac"
    ]
    assert [each["lot"] for each in need["best"]] == [301]


def test_fit_looks_at_no_more_than_it_must(api: Api, database: Database) -> None:
    """Among thousands of lots a fit judges at most 200, and lists at most 20 misses."""
    fill(database, ROWS)
    fit = api.post("/v1/fits/sac", BODY | {"limit": 200}).body
    assert 0 < len(fit["candidates"]) <= MOST_JUDGED
    assert len(fit["refused"]) == 20
    assert all(each["available"] > 0 for each in fit["candidates"])


GLAND = {"gland": "piston", "bore": "7.6 mm", "groove_diameter": "4.6 mm", "duty": "moving"}


@pytest.mark.parametrize("rings", [5, 2 * MOST_WALKED + 10])
def test_the_misses_end_where_a_thousand_were_looked_at(
    api: Api, database: Database, rings: int
) -> None:
    """Of very many rings that all fit no more are asked why they would not do, and that is said."""
    ring = {"kind": "o_ring", "material": "nbr", "cross_section_nanometres": 1_780_000}
    sizes = [4_509_000 + (number - rings // 2) for number in range(rings)]
    lots = [ring | {"in_hand": 1, "inside_diameter_nanometres": size} for size in sizes]
    thick = {**lots[0], "cross_section_nanometres": 3_530_000}
    further = {**thick, "inside_diameter_nanometres": 4_000_000}
    add(database, [*lots, {**thick, "inside_diameter_nanometres": 4_509_000}, further])
    asked = _asked(database, lambda: api.post("/v1/fits/o_ring", GLAND))
    found = api.post("/v1/fits/o_ring", GLAND).body
    assert len(found["candidates"]) == min(rings, 20)
    are_all_looked_at = rings < MOST_WALKED
    near, far = rings + 1, rings + 2
    assert [each["lot"] for each in found["refused"]] == [near, *[far] * are_all_looked_at]
    assert found["refused_ends_early"] is not are_all_looked_at
    assert len(asked) < 15


@pytest.mark.parametrize("sacs", [5, 2 * MOST_WALKED + 10])
def test_fresh_ones_beyond_a_thousand_hide_no_old_one_unsaid(
    api: Api, database: Database, sacs: int
) -> None:
    """One that is over age behind very many that fit is not found, and that more lie there is said.

    A sac is sought by its diameter alone.
    """
    fresh = [{"in_hand": 1, "outside_diameter_nanometres": 5_900_000 - n} for n in range(sacs)]
    old = {"in_hand": 1, "outside_diameter_nanometres": 5_700_000, "made_from": date(2009, 1, 1)}
    add(database, [*fresh, old])
    found = api.post("/v1/fits/sac", BODY).body
    is_looked_at = sacs < MOST_WALKED
    assert [each["lot"] for each in found["refused"]] == [sacs + 1] * is_looked_at
    assert found["refused_ends_early"] is not is_looked_at


def _fill_out(api: Api, lots: int) -> None:
    """Stock sacs that fit, in drawers and in donors, free and promised, and some that do not."""
    job = api.job()
    for _ in range(lots):
        for size in ("5.9 mm", "5.8 mm", "9 mm"):
            api.stock(measured={"outside_diameter": size})
        promised = api.stock(quantity=1)["id"]
        assert api.post(f"/v1/jobs/{job}/reservations", {"lot": promised}).status == 201
        measured = {"outside_diameter": "5.9 mm"}
        barrel = {"kind": "barrel", "state": "present"}
        sac = {"kind": "sac", "state": "present", "measured": measured, "part_of": 0}
        donor = api.post("/v1/donors", {"called": "wreck", "components": [barrel, sac]})
        assert donor.status == 201, donor.text


def test_a_fit_asks_a_fixed_number_of_times(api: Api, database: Database) -> None:
    """However many pieces fit, are promised, lie in donors or miss, a fit asks eight times."""
    counts = []
    for lots in (1, 6):
        _fill_out(api, lots)
        asked = _asked(database, lambda: api.post("/v1/fits/sac", BODY))
        counts.append(len([text for text, _ in asked if re.match(r"\s*SELECT", text)]))
    assert counts[0] == counts[1]
    assert counts[0] <= MOST_STATEMENTS_OF_A_FIT


@pytest.mark.parametrize(
    ("path", "most"),
    [("lots", 6), ("movements", 5), ("parts", 3), ("jobs", 11), ("pens", 6), ("reservations", 5)],
)
def test_lists_ask_a_fixed_number_of_times(
    api: Api, database: Database, path: str, most: int
) -> None:
    """A list of many rows needs no more statements than a list of one."""
    asked: list[str] = []
    event.listen(database.engine, "before_cursor_execute", lambda *call: asked.append(call[2]))

    def count() -> int:
        asked.clear()
        assert api.get(f"/v1/{path}").status == 200
        return len([text for text in asked if re.match(r"\s*SELECT", text)])

    api.stock()
    api.post(f"/v1/jobs/{api.job()}/reservations")
    one = count()
    for _ in range(6):
        api.stock()
        api.post(f"/v1/jobs/{api.job()}/reservations")
    assert count() == one
    assert one <= most
