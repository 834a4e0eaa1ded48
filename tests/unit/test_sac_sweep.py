"""Advice, pick and picture agree over many pens and the drawers of the demo workshop."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction

import pytest

from sparewell.app.declarations import core_declarations
from sparewell.database.engine import open_database
from sparewell.database.transaction import read
from sparewell.errors import Impossible
from sparewell.extend.declarations import Verdict
from sparewell.fitting.judging import Candidate
from sparewell.fitting.operations import Fit, fit, prepare
from sparewell.work import Actor, Work
from support.demo import NOW, Demo

DECLARED = core_declarations()
ORDER = {verdict: place for place, verdict in enumerate(Verdict)}


@pytest.fixture
def work(demo: Demo) -> Iterator[Work]:
    """The demo workshop, only looked at."""
    database = open_database(demo.url)
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


@pytest.mark.parametrize("pens", [50, pytest.param(500, marks=pytest.mark.rest)])
def test_what_comes_first_is_what_is_recommended(work: Work, pens: int) -> None:
    """Over many pens the recommended size comes first whenever a plain piece of it is in hand."""
    dice = random.Random(20_261_129)  # noqa: S311 - made-up pens, no secrets
    sized = in_hand = 0
    while sized < pens:
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
    assert in_hand > pens // 10
