"""A calculator that fails answers for itself alone; everything else goes on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from importlib.metadata import EntryPoint
from typing import Any

import pytest

from sparewell.app.factory import create_app
from sparewell.app.settings import CORE_SETTINGS
from sparewell.database.engine import Database
from sparewell.extend.host import installed_entry_points, load_declarations
from sparewell.plugin import (
    Answer,
    Calculator,
    Envelope,
    Field,
    FillingSystem,
    ImpossibleInput,
    Inputs,
    Judgement,
    Piece,
    Range,
    TemplateNeed,
    TemplateReading,
    Verdict,
)
from support.api import BODY, Api
from support.declared import HALVE

MakePlugin = Callable[..., EntryPoint]
Serve = Callable[..., Api]


def fail(*_anything: Any) -> Any:
    """Fail as a plugin with a slip in it does."""
    raise ZeroDivisionError("a secret path: /home/author")


def ask_for_sacs(_inputs: Inputs) -> Envelope:
    """Ask for a sac of about 5.9 mm."""
    bounds = Range(5_000_000, 7_000_000)
    return Envelope("sac", ideal=5_900_000, ranges={"outside_diameter": bounds})


def take_any(_inputs: Inputs, _piece: Piece) -> Judgement:
    """Take whatever is found."""
    return Judgement(Verdict.FITS, "it is there")


HALVED = replace(HALVE, kind="sac")
FITTING = replace(HALVED, envelope=ask_for_sacs, judge=take_any)


@pytest.fixture
def serve(
    database: Database, token_of: Callable[[str], str], plugin: MakePlugin, app: object
) -> Serve:
    """Return a maker of services with one more plugin, called `rings`, beside the bundled ones."""
    del app  # the token is made in its database

    def make(*calculators: Calculator, **more: Any) -> Api:
        point = plugin("rings", calculators=list(calculators), **more)
        declared = load_declarations(
            [*installed_entry_points(), point], core_settings=CORE_SETTINGS
        )
        return Api(create_app(database, declared), token_of("admin"))

    return make


def assert_only_it_is_broken(api: Api, path: str, part: str) -> None:
    """Hold that this answers 502 naming plugin and part, and that another calculator answers."""
    reply = api.post(path, {"whole": "3 mm"})
    assert reply.status == 502, reply.text
    assert reply.headers["Content-Type"] == "application/problem+json"
    assert reply.body["type"].endswith("/plugin-failed")
    assert "the plugin 'rings'" in reply.body["detail"]
    assert part in reply.body["detail"]
    assert "secret" not in reply.text
    assert api.post("/v1/calculators/sac", BODY).status == 200


def test_a_calculator_that_works_answers(serve: Serve) -> None:
    """The plugin of these tests answers when nothing in it is broken."""
    reply = serve(FITTING).post("/v1/calculators/halve", {"whole": "3 mm"})
    assert (reply.status, reply.body["result"]) == (200, {"half": 1.5})


def test_compute_that_raises_answers_for_itself_alone(serve: Serve) -> None:
    """A compute that raises is a 502 that names plugin and calculator; its neighbour answers."""
    api = serve(replace(HALVED, compute=fail), replace(HALVED, name="third"))
    assert_only_it_is_broken(api, "/v1/calculators/halve", "compute of the calculator 'halve'")
    assert api.post("/v1/calculators/third", {"whole": 3}).status == 200


@pytest.mark.parametrize(
    "returned",
    [
        None,
        {"half": 1},
        Answer({}),
        Answer({"half": 1, "third": 1}),
        Answer({"half": "1.5 mm"}),
        Answer({"half": None}),
        Answer({"half": True}),
        Answer({"half": 1.5}),
        Answer({"half": [1, 2]}),
    ],
    ids=str,
)
def test_result_that_is_not_as_declared_is_refused(serve: Serve, returned: object) -> None:
    """What the document does not promise is never sent: the answer is a 502 instead."""
    api = serve(replace(HALVED, compute=lambda _inputs: returned))
    assert_only_it_is_broken(api, "/v1/calculators/halve", "of the calculator 'halve'")


def test_drawing_that_raises_answers_for_itself_alone(serve: Serve) -> None:
    """A drawing that raises is a 502 that names the plugin and the drawing."""
    api = serve(replace(HALVED, drawing=fail))
    assert_only_it_is_broken(api, "/v1/calculators/halve", "drawing of the calculator 'halve'")


@pytest.mark.parametrize("part", ["envelope", "judge"])
def test_choice_among_pieces_that_raises_answers_for_itself_alone(serve: Serve, part: str) -> None:
    """An envelope or a judge that raises breaks the fit; the calculator itself still answers."""
    api = serve(replace(FITTING, **{part: fail}))
    api.stock()
    assert_only_it_is_broken(api, "/v1/fits/halve", f"{part} of the calculator 'halve'")
    assert api.post("/v1/calculators/halve", {"whole": 3}).status == 200


@pytest.mark.parametrize("why", [fail, lambda: 42], ids=["raises", "no text"])
def test_a_why_that_cannot_be_written_answers_for_itself_alone(
    serve: Serve, why: Callable[[], Any]
) -> None:
    """A sentence that fails only when it is read is the plugin's failure, and named as such."""
    judged = Judgement(Verdict.FITS, why)
    api = serve(replace(FITTING, judge=lambda _inputs, _piece: judged))
    api.stock()
    assert_only_it_is_broken(api, "/v1/fits/halve", "judge of the calculator 'halve'")


def test_a_why_is_a_text_or_what_writes_it(serve: Serve) -> None:
    """Both are shown alike; one is written once for pieces alike, and not unless it is shown."""
    asked: list[Piece] = []
    written: list[int] = []

    def judge(_inputs: Inputs, piece: Piece) -> Judgement:
        asked.append(piece)
        size = piece.dimensions["outside_diameter"]
        if size == 5_900_000:
            return Judgement(Verdict.FITS, "it is there")

        def why() -> str:
            written.append(size)
            return "it is there"

        return Judgement(Verdict.FITS, why)

    api = serve(replace(FITTING, judge=judge))
    for size in ("5.9 mm", "5.95 mm", "5.95 mm", "6.5 mm"):
        api.stock(measured={"outside_diameter": size})
    found = api.post("/v1/fits/halve", {"whole": "3 mm", "limit": 3}).body["candidates"]
    assert [each["why"] for each in found] == ["it is there"] * 3
    assert len(asked) == 3
    assert written == [5_950_000]


@pytest.mark.parametrize("margin", [0.5, Decimal("NaN"), Decimal("Infinity"), "1", True, None])
def test_a_margin_that_cannot_be_kept_is_named(serve: Serve, margin: Any) -> None:
    """A promise keeps margins, so a judge that returns another kind of number has failed."""
    judged = Judgement(Verdict.FITS, "it is there", {"room": margin})
    api = serve(replace(FITTING, judge=lambda _inputs, _piece: judged))
    api.stock()
    assert_only_it_is_broken(api, "/v1/fits/halve", "judge of the calculator 'halve'")


@pytest.mark.parametrize("part", ["envelope", "judge", "drawing"])
def test_part_that_returns_nonsense_answers_for_itself_alone(serve: Serve, part: str) -> None:
    """An envelope, a judge or a drawing of the wrong type is the plugin's failure, not ours."""
    api = serve(replace(FITTING, **{part: lambda *_anything: 42}))
    api.stock()
    assert_only_it_is_broken(api, "/v1/fits/halve", f"{part} of the calculator 'halve'")


@pytest.mark.parametrize(
    "ranges",
    [{}, {"girth": Range(1, 2)}, {"length": Range(1, 2)}],
    ids=["none", "unknown", "not the leading one"],
)
def test_envelope_that_cannot_be_searched_answers_for_itself_alone(
    serve: Serve, ranges: dict[str, Range]
) -> None:
    """Ranges without the leading dimension, or of an unknown one, are the plugin's failure."""
    asked = Envelope("sac", ideal=5_900_000, ranges=ranges)
    api = serve(replace(FITTING, envelope=lambda _inputs: asked))
    api.stock()
    assert_only_it_is_broken(api, "/v1/fits/halve", "envelope")


def test_impossible_input_points_at_the_reading(serve: Serve) -> None:
    """A refusal by the calculator is a 422 that points at the input, not a failure."""

    def refuse(_inputs: Inputs) -> Answer:
        raise ImpossibleInput(("whole", "no half of it can be had"))

    reply = serve(replace(HALVED, compute=refuse)).post("/v1/calculators/halve", {"whole": 3})
    assert reply.status == 422
    assert reply.body["errors"] == [{"pointer": "/whole", "detail": "no half of it can be had"}]


def test_plan_goes_on_beside_a_calculator_that_raises(serve: Serve) -> None:
    """In a job's plan the broken calculator is the problem of its own need only."""
    needs = (
        TemplateNeed("sac", "here", calculator="halve"),
        TemplateNeed("sac", "there", calculator="sac"),
    )
    readings = tuple(map(TemplateReading, ("whole", *BODY)))
    system = FillingSystem("pump", "pump", needs, readings, (), (), ())
    broken = replace(FITTING, inputs=(Field("whole", "whole", measured=True),), compute=fail)
    api = serve(broken, filling_systems=[system])
    lot = api.stock()
    pen = {"called": "pump pen", "filling_system": "pump", "readings": {"whole": 3, **BODY}}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    first, second = api.get(f"/v1/jobs/{job}/plan").body["needs"]
    assert "the plugin 'rings' failed in compute" in first["problem"]
    assert [taking["lot"] for taking in second["best"]] == [lot["id"]]
