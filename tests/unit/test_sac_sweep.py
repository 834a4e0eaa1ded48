"""Advice, pick and picture agree over many pens and the drawers of the demo workshop."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime
from fractions import Fraction

import pytest

from sparewell.app.factory import core_declarations
from sparewell.app.owners import owners_of_tables
from sparewell.database import migrate
from sparewell.database.engine import open_database
from sparewell.database.transaction import read
from sparewell.errors import Impossible
from sparewell.extend.declarations import Verdict
from sparewell.fitting.operations import Candidate, Fit, fit, prepare
from sparewell.work import Actor, Work
from sparewell_demo_seed.loader import load_workshop

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
DECLARED = core_declarations()
PENS = 500
ORDER = {verdict: place for place, verdict in enumerate(Verdict)}


@pytest.fixture(scope="module")
def work(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Work]:
    """The demo workshop, only looked at."""
    database = open_database(f"sqlite:///{tmp_path_factory.mktemp('sweep') / 'demo.sqlite3'}")
    migrate.upgrade(database, owners_of_tables(DECLARED))
    load_workshop(database, DECLARED, NOW)
    with read(database) as session:
        yield Work(session, NOW, Actor("test"), DECLARED)
    database.close()


def found_for(work: Work, dice: random.Random) -> tuple[Fit, str, str] | None:
    """Return the fit of a pen that the dice throw, what is advised, and what is drawn."""
    bore = dice.randrange(6_500_000, 10_500_000, 10_000)
    values = {
        "barrel_bore": bore,
        "bar_height": dice.randrange(500_000, 1_300_000, 10_000),
        "nipple_diameter": dice.randrange(4_500_000, bore - 400_000, 10_000),
    }
    run = prepare(work, "sac", values, {}, pen_materials=["hard rubber"], materials=["latex"])
    try:
        found = fit(work, run, limit=200)
    except Impossible:
        return None
    advice = run.advise()
    assert advice is not None
    return found, advice.look_for, str(found.calculation.drawing)


def half_of(candidate: Candidate) -> Fraction:
    """Return the half size that a piece measures nearest to."""
    sixty_fourths = Fraction(candidate.lot.dimensions["outside_diameter"], 396_875)
    return Fraction(round(sixty_fourths * 2), 2)


def is_plain(candidate: Candidate) -> bool:
    """Whether it is straight, measured, of latex, in a drawer and to be taken."""
    shaped = {"neck_diameter", "tip_diameter"} & candidate.lot.dimensions.keys()
    return (
        not shaped
        and candidate.basis == "measured"
        and candidate.lot.material == "latex"
        and candidate.reach == 0
        and candidate.is_taken_by_itself
    )


def test_what_comes_first_is_what_is_recommended(work: Work) -> None:
    """Over 500 pens the recommended size comes first whenever a plain piece of it is in hand."""
    dice = random.Random(20_261_129)  # noqa: S311 - made-up pens, no secrets
    sized = in_hand = 0
    while sized < PENS:
        thrown = found_for(work, dice)
        if thrown is None:
            continue
        sized += 1
        found, look_for, drawing = thrown
        recommended = Fraction(str(found.calculation.result["recommended"]))
        spoken = f"{recommended.numerator // recommended.denominator}{'½' * (recommended % 1 > 0)}"
        assert f"Sac {spoken} drawn" in drawing
        if found.calculation.result["outcome"] != "check_barrel" and 8 <= recommended <= 24:
            assert f"no. {spoken}" in look_for
        plain = [
            each for each in found.candidates if is_plain(each) and half_of(each) == recommended
        ]
        if not plain:
            continue
        in_hand += 1
        first = found.candidates[0]
        assert half_of(first) == recommended, (found.calculation.result, first.why)
        assert is_plain(first) or ORDER[first.verdict] < min(ORDER[each.verdict] for each in plain)
    assert in_hand > PENS // 10
