"""The demo workshop: its size, its special bags, its pens in every state, its dates, its names."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.app.declarations import core_declarations
from sparewell.app.owners import owners_of_tables
from sparewell.audit.pieces import audit
from sparewell.catalogue.tables import Part
from sparewell.database import migrate
from sparewell.database.engine import Database, open_database
from sparewell.database.transaction import read
from sparewell.donors.tables import Component, Donor
from sparewell.errors import Conflict
from sparewell.extend.host import Declarations
from sparewell.jobs.tables import Job, Timer
from sparewell.ledger.tables import Act
from sparewell.lots.ageing import fit_by
from sparewell.lots.tables import Lot
from sparewell.measure.length import parse_length
from sparewell.outcomes.operations import size_of
from sparewell.outcomes.tables import Outcome
from sparewell.pens.tables import Pen
from sparewell.photographs.pictures import read_picture
from sparewell.photographs.tables import Photograph
from sparewell.places.tables import Place
from sparewell.plans.need_plans import NeedPlan
from sparewell.plans.planning import Plan, plan_job
from sparewell.reservations.tables import Reservation
from sparewell.settings.operations import present_settings, present_values
from sparewell.work import Actor, Work
from sparewell_demo_seed.drawing import draw_pen
from sparewell_demo_seed.files import document_of
from sparewell_demo_seed.loader import Workshop, load_workshop
from sparewell_demo_seed.relative import made_before, moment_before
from support.demo import NOW, Demo

NEW_YEAR = datetime(2027, 1, 1, 0, 10, tzinfo=UTC)
LEAP_DAY = datetime(2028, 2, 29, 23, 50, tzinfo=UTC)
DECLARED = core_declarations()


def load(folder: Path, now: datetime) -> tuple[Database, Workshop]:
    """Return a fresh database with the workshop in it."""
    database = empty(folder)
    return database, load_workshop(database, DECLARED, now)


def empty(folder: Path) -> Database:
    """Return a fresh database with its tables."""
    database = open_database(f"sqlite:///{folder / 'demo.sqlite3'}")
    migrate.upgrade(database, owners_of_tables(DECLARED))
    return database


@pytest.fixture
def session(demo: Demo) -> Iterator[Session]:
    """A session that reads the loaded workshop."""
    database = open_database(demo.url)
    with read(database) as opened:
        yield opened
    database.close()


def job_of(session: Session, called: str) -> Job:
    """Return the job of a pen."""
    return session.scalars(select(Job).join(Pen).where(Pen.called == called)).one()


def plan_of(session: Session, called: str) -> Plan:
    """Return the plan of a pen's job as it is at NOW."""
    return plan_job(Work(session, NOW, Actor("test"), DECLARED), job_of(session, called))


def sac_of(plan: Plan) -> NeedPlan:
    """Return what the plan says of the sac."""
    return next(need for need in plan.needs if need.need.kind == "sac")


def outcome_of(session: Session, called: str) -> object:
    """Return how barrel and nipple of a pen agree."""
    found = sac_of(plan_of(session, called)).found
    return found.calculation.result["outcome"] if found else None


def states_of(session: Session, called: str) -> list[str]:
    """Return the states of a pen's reservations, oldest first."""
    rows = session.scalars(
        select(Reservation)
        .where(Reservation.job_id == job_of(session, called).id)
        .order_by(Reservation.id)
    )
    return [row.state for row in rows]


def lots_of(session: Session, part: str) -> list[Lot]:
    """Return the lots of a part."""
    return list(session.scalars(select(Lot).join(Part).where(Part.number == part)).unique())


def test_the_counts_are_exact(demo: Demo, session: Session) -> None:
    """There are 40 parts, 115 lots and 149 pens, in the answer and in the database."""
    workshop = demo.workshop
    assert (workshop.parts, workshop.lots, workshop.pens, workshop.jobs) == (40, 115, 149, 148)
    assert workshop.name == "the Wrenquarrow Bench"
    for table, count in ((Part, 40), (Lot, 115), (Pen, 149), (Job, 148)):
        assert len(session.scalars(select(table)).unique().all()) == count


@pytest.mark.rest
def test_it_loads_on_either_database(database: Database, declared: Declarations) -> None:
    """SQLite and PostgreSQL hold the same workshop, and its ledger balances."""
    workshop = load_workshop(database, declared, NOW)
    assert (workshop.parts, workshop.lots, workshop.pens) == (40, 115, 149)
    with read(database) as session:
        report = audit(session)
    assert not report.faults
    assert (report.reservations, report.movements) == (148, workshop.movements)


def test_the_ledger_balances(session: Session) -> None:
    """The audit looks at every lot and finds no fault."""
    report = audit(session)
    assert report.lots == 115
    assert report.faults == ()


def test_every_kind_of_piece_lies_in_its_drawer(session: Session) -> None:
    """All five kinds are in stock, and every one of the eighteen drawers holds something."""
    lots = session.scalars(select(Lot).where(Lot.donor_id.is_(None))).unique().all()
    assert {lot.kind for lot in lots} == {"sac", "o_ring", "gasket", "spring", "pressure_bar"}
    drawers = {f"{row}{column}" for row in "ABC" for column in range(1, 7)}
    assert {lot.place.code for lot in lots} == drawers
    assert set(session.scalars(select(Place.code).where(Place.type == "drawer"))) == drawers


def test_two_bags_of_one_number_measure_differently(session: Session) -> None:
    """Of two bags of 16 one measures 6.10 mm and the other 6.55 mm."""
    texts = {lot.measured.get("outside_diameter") for lot in lots_of(session, "SAC-16-STR")}
    assert {"6.10 mm", "6.55 mm"} <= texts


def test_a_bag_sold_as_silicone_is_vinyl(session: Session) -> None:
    """One lot is labelled silicone and was tested to be vinyl."""
    vinyl = [lot for lot in lots_of(session, "SAC-16-SIL") if lot.material == "pvc"]
    assert [(lot.material_confidence, "silicone" in (lot.label or "")) for lot in vinyl] == [
        ("tested", True)
    ]


def test_there_are_undated_label_only_and_half_sized_sacs(session: Session) -> None:
    """Some latex has no date, some lots were never measured, and three half sizes are in stock."""
    sacs = session.scalars(select(Lot).where(Lot.kind == "sac")).unique().all()
    assert sum(lot.material == "latex" and lot.made_on is None for lot in sacs) >= 4
    assert sum(not lot.measured and lot.label is not None for lot in sacs) >= 10
    for number in ("14.5", "15.5", "16.5"):
        assert lots_of(session, f"SAC-{number}-STR")
    assert any(lot.material is None for lot in sacs)


def test_some_lots_are_fully_promised_and_some_are_used_up(session: Session) -> None:
    """The tail rings and the last 24 are promised to the last piece; what was used up is empty."""
    lots = session.scalars(select(Lot)).unique().all()
    promised = {lot.part.number for lot in lots if lot.in_hand and lot.available == 0}
    assert promised == {"OR-5X1", "SAC-24-STR"}
    assert sum(lot.in_hand == 0 for lot in lots) == 13


def test_half_a_year_of_repairs_is_behind_it(session: Session) -> None:
    """At least 120 jobs were closed in six months: a 16 about six times in each, a 22 twice."""
    since = NOW - timedelta(days=183)
    closed = session.scalars(select(Job).where(Job.state == "closed", Job.ended_at > since)).all()
    assert len(closed) >= 120
    used = Counter(
        number
        for (number,) in session.execute(
            select(Part.number)
            .join(Lot, Lot.part_id == Part.id)
            .join(Reservation, Reservation.lot_id == Lot.id)
            .join(Job, Job.id == Reservation.job_id)
            .where(Job.state == "closed", Job.ended_at > since, Reservation.used > 0)
        )
    )
    assert 33 <= used["SAC-16-STR"] <= 42
    assert used["SAC-22-STR"] == 2


def test_rings_are_known_in_inches_and_in_millimetres(session: Session) -> None:
    """A ring entered in inches is kept exactly, and its text as it was entered."""
    by_inch = next(lot for lot in lots_of(session, "OR-4.47X1.78"))
    assert by_inch.measured["inside_diameter"] == "0.176 in"
    assert by_inch.dimensions["inside_diameter"] == parse_length("4.4704 mm")
    by_millimetre = next(lot for lot in lots_of(session, "OR-4.5X0.8"))
    assert by_millimetre.measured["cross_section"] == "0.81 mm"


def test_every_state_of_jobs_and_reservations_is_there(session: Session) -> None:
    """Jobs are open, closed and cancelled; reservations in every state but settled."""
    assert Counter(session.scalars(select(Job.state))) == {"open": 9, "closed": 138, "cancelled": 1}
    states = {row.state for row in session.scalars(select(Reservation))}
    assert states == {"held", "in_tray", "used", "released", "spoiled", "lapsed"}


@pytest.mark.parametrize(
    ("called", "states"),
    [
        ("plain black lever pen", ["used", "used"]),
        ("coral button pen", ["lapsed", "released"]),
        ("grey pearl button pen", ["spoiled", "held"]),
        ("green striped lever pen", ["in_tray", "in_tray"]),
        ("slate pneumatic pen", ["held", "in_tray"]),
        ("oversize black lever pen", ["held"]),
        ("oversize orange lever pen", []),
        ("ivory marbled lever pen", []),
    ],
)
def test_each_pen_stands_where_its_story_ends(
    session: Session, called: str, states: list[str]
) -> None:
    """Pieces were used, given up, spoiled and reserved again, fetched, or only promised."""
    assert states_of(session, called) == states


def test_one_pen_has_no_job_and_one_lacks_a_reading(session: Session) -> None:
    """The olive pen was just unpacked; the mottled one cannot be sized without its nipple."""
    with_job = set(session.scalars(select(Job.pen_id)))
    without = [pen.called for pen in session.scalars(select(Pen)) if pen.id not in with_job]
    assert without == ["olive lever pen"]
    assert sac_of(plan_of(session, "mottled red lever pen")).missing == ("nipple_diameter",)


def test_an_open_job_is_complete_and_warns_for_the_worst_material(session: Session) -> None:
    """The pen of unknown material can be fitted from stock, with the cautions for casein."""
    plan = plan_of(session, "ivory marbled lever pen")
    assert plan.complete
    assert sac_of(plan).best
    assert any("Casein: no water" in caution.caution for caution in plan.cautions)


def test_barrel_and_nipple_disagree_both_ways(session: Session) -> None:
    """One pen's barrel is to be checked first, and one pen's nipple limits it."""
    assert outcome_of(session, "brown rippled lever pen") == "check_barrel"
    assert outcome_of(session, "chased black crescent pen") == "nipple_limits"
    assert outcome_of(session, "green striped lever pen") == "agree"


def test_the_guard_takes_a_sac_as_it_is_over_the_nipple(session: Session) -> None:
    """The pneumatic pen is sized by its guard: a 15 goes in, its wall thinner for the stretch."""
    plan = plan_of(session, "slate pneumatic pen")
    assert plan.complete
    fitted = session.scalars(
        select(Lot)
        .join(Reservation)
        .where(Reservation.job_id == job_of(session, "slate pneumatic pen").id, Lot.kind == "sac")
    ).one()
    assert fitted.part.number == "SAC-15-THIN"


def test_two_pens_want_the_same_last_piece(session: Session) -> None:
    """The second oversize pen is short, and its plan names the job that holds the last 24."""
    plan = plan_of(session, "oversize orange lever pen")
    holder = job_of(session, "oversize black lever pen").number
    found = sac_of(plan).found
    assert not plan.complete
    assert found is not None
    assert [refused.lot.part.number for refused in found.refused if refused.job == holder] == [
        "SAC-24-STR"
    ]


def test_a_later_reading_stands_beside_the_first(session: Session) -> None:
    """The bore of the striped pen was taken twice, each as it was written."""
    pen = session.scalars(select(Pen).where(Pen.called == "green striped lever pen")).one()
    entered = [reading.entered for reading in pen.readings if reading.name == "barrel_bore"]
    assert entered == ["8.9 mm", "8.6 mm"]


def test_holds_do_not_lapse_any_more(session: Session) -> None:
    """The workshop tried out lapsing holds and went back, so that every answer is by default."""
    state = present_settings(session, DECLARED)["stock.hold_lapses_after_hours"]
    assert state.value is None
    assert state.changed_by == "demo"


def ages(session: Session, now: datetime) -> list[tuple[str, timedelta, object]]:
    """Return size, time since arrival and age since making, in the unit of its own date."""
    lots = session.scalars(select(Lot).order_by(Lot.id)).unique()
    return [(size_of(DECLARED, lot), now - lot.arrived_at, age(lot, now.date())) for lot in lots]


def age(lot: Lot, today: date) -> int | None:
    """Return how many months, quarters or years ago a lot was made."""
    if lot.made_on is None or lot.made_from is None:
        return None
    years = today.year - lot.made_from.year
    if "Q" in lot.made_on:
        return years * 4 + (today.month - 1) // 3 - (lot.made_from.month - 1) // 3
    if "-" in lot.made_on:
        return years * 12 + today.month - lot.made_from.month
    return years


def over_age(session: Session, today: date) -> list[int]:
    """Return the lots that should have been fitted by now."""
    settings = present_values(session, DECLARED)
    lots = session.scalars(select(Lot).order_by(Lot.id)).unique()
    return [lot.id for lot in lots if fit_by(lot, DECLARED, settings).is_past(today)]


@pytest.mark.rest
@pytest.mark.parametrize("now", [NEW_YEAR, LEAP_DAY])
def test_dates_are_relative_to_the_day_of_loading(
    session: Session, tmp_path: Path, now: datetime
) -> None:
    """Loaded on another day, every lot is as old as before, and the same ones are over age."""
    database, workshop = load(tmp_path, now)
    assert workshop.pens == 149
    with read(database) as other:
        assert ages(other, now) == ages(session, NOW)
        assert over_age(other, now.date()) == over_age(session, NOW.date())
    database.close()
    assert len(over_age(session, NOW.date())) == 9


def test_nothing_happens_after_the_day_of_loading(session: Session) -> None:
    """Every movement lies in the past, and they were written in the order they happened."""
    moments = list(session.scalars(select(Act.at).order_by(Act.id)))
    assert moments == sorted(moments)
    assert NOW - timedelta(days=2500) < moments[0] < moments[-1] < NOW


def test_a_used_database_is_refused_and_left_alone(demo: Demo, tmp_path: Path) -> None:
    """A second load names what is there already, and adds nothing to it."""
    file = shutil.copy(demo.file, tmp_path / "used.sqlite3")
    database = open_database(f"sqlite:///{file}")
    with pytest.raises(Conflict, match=r"already holds 40 parts, .*149 pens; .*fresh one only"):
        load_workshop(database, DECLARED, NOW)
    with read(database) as session:
        assert audit(session).movements == demo.workshop.movements
    database.close()


def test_progress_reaches_its_total(demo: Demo) -> None:
    """Progress starts at nothing, only grows, and ends at the total it named all along."""
    done = [report[0] for report in demo.progress]
    totals = {report[1] for report in demo.progress}
    assert done == sorted(set(done))
    assert (done[0], {done[-1]}) == (0, totals)
    assert [report[2] for report in demo.progress][-1] == "pens and jobs"


def test_labels_name_invented_makers_only(session: Session) -> None:
    """A packet is of one of the three invented makers or unmarked; only invented people act."""
    about = document_of("workshop.json")
    labels = set(session.scalars(select(Lot.label).where(Lot.label.is_not(None))))
    makers = {label.split()[0] for label in labels if label}
    assert makers == {*about["makers"], "unmarked"}
    assert set(session.scalars(select(Act.person))) == set(about["people"])
    assert set(session.scalars(select(Act.actor))) == {"demo"}


def test_no_text_of_the_demo_has_a_name_in_it(session: Session) -> None:
    """No word begins with a capital but those that are no names, so nobody's name slipped in."""
    texts = [
        *session.scalars(select(Part.name)),
        *session.scalars(select(Part.note)),
        *session.scalars(select(Lot.note)),
        *session.scalars(select(Pen.called)),
        *session.scalars(select(Pen.note)),
        *session.scalars(select(Job.note)),
        *session.scalars(select(Act.note)),
        *session.scalars(select(Reservation.note)),
        *session.scalars(select(Place.note).where(Place.type == "drawer")),
        *session.scalars(select(Donor.called)),
        *session.scalars(select(Donor.note)),
        *session.scalars(select(Component.note)),
        *session.scalars(select(Timer.what)),
        *session.scalars(select(Outcome.note)),
        *session.scalars(select(Photograph.note)),
    ]
    capitals = {word for text in texts for word in text.split() if word[0].isupper()}
    assert capitals <= {"O-ring", "O-rings", "J-bar,", "DON-0001"}


def test_the_picture_is_a_whole_one() -> None:
    """What the program draws is a PNG that is taken in as it is."""
    drawn = draw_pen((104, 112, 60))
    assert read_picture(drawn).data == drawn


@pytest.mark.parametrize("ago", ["12", "days 12", "12 weeks", "-1 days", "12 days ago"])
def test_a_span_that_cannot_be_read_is_refused(ago: str) -> None:
    """A slip in a data file is named instead of becoming a wrong date."""
    with pytest.raises(ValueError, match="no time before now"):
        moment_before(NOW, ago)


@pytest.mark.parametrize(
    ("ago", "text"),
    [
        ("1 month", "2026-10"),
        ("11 months", "2025-12"),
        ("3 quarters", "2026-Q1"),
        ("4 quarters", "2025-Q4"),
        ("17 years", "2009"),
        ("30 days", "2026-10-26"),
    ],
)
def test_a_making_date_counts_back_from_now(ago: str, text: str) -> None:
    """Months, quarters, years and days are counted back over the turn of the year."""
    made = made_before(NOW, ago)
    assert made is not None
    assert made.text == text
    assert made_before(NOW, "") is None
