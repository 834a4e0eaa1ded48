"""`sparewell pen`, `job` and `lot`: the whole repair from a script, against a server."""

from __future__ import annotations

import re
from typing import Any

import pytest
from click.testing import CliRunner

from cli.conftest import BODY, Bench
from sparewell.cli import jobs as job_commands
from sparewell.cli import promises
from sparewell.cli.client import ServerAnswer
from sparewell.cli.failures import NO, Failure
from sparewell.jobs.tables import JobState
from sparewell.outcomes.tables import TurnedOut

HEAVY = {"flask", "sqlalchemy", "alembic", "marshmallow", "pluggy"}
READINGS = [word for name, value in BODY.items() for word in ("--reading", f"{name}={value}")]
NEW_PEN = ("pen", "new", "--called", "olive lever pen", "--filling-system", "lever", *READINGS)


def on_the_bench(bench: Bench) -> str:
    """Bring a pen and open its job by the command line; return the job's number."""
    pen = bench.run(*NEW_PEN, "--number").strip()
    return bench.run("job", "open", pen, "--number").strip()


def test_a_script_does_the_whole_job(bench: Bench) -> None:
    """Pen, job, plan, reserve, fetch, use, close: each ends with 0, and the sac has left."""
    job = on_the_bench(bench)
    planned = bench.run("job", "plan", job)
    assert planned.startswith(f"{job}: complete\n  need 1: 1 sac: open\n    take 1 of lot 1 in A3")
    assert bench.run("job", "reserve", job) == f"reservation 1 of {job}, lot 1: 1 to be fetched\n"
    assert bench.run("job", "fetch", job) == f"reservation 1 of {job}, lot 1: 1 in the tray\n"
    assert bench.run("job", "use", job) == f"reservation 1 of {job}, lot 1: 1 used\n"
    shown = bench.json("job", "show", job)
    steps = [str(step["position"]) for step in shown["steps"] if step["owed"]]
    bench.run("job", "step", job, *steps[:-1])
    last = bench.run("job", "step", job, steps[-1], "--not-needed", "sealed at the fair")
    assert "not needed" in last
    assert "Before it closes" not in last
    said = bench.run(
        *("job", "close", job, "--outcome", "good", "--glue", "shellac", "--minutes", "40"),
        *("--test", "air=passed", "--test", "fill by weight=0.9 ml"),
    )
    assert said.startswith(f"{job}  PEN-0001  closed  (lever)\n")
    closed = bench.json("job", "show", job)
    assert (closed["glue"], closed["time_minutes"], closed["unfinished"]) == ("shellac", 40, [])
    told = {test["name"]: test for test in closed["test_results"]}
    assert told["air"]["passed"] is True
    assert told["fill_by_weight"]["value"] == "0.9 ml"
    assert bench.run("stock", "check", "--part", "SAC-15-STR", "--at-least", "9").startswith("9 av")


def test_a_pen_is_measured_and_corrected(bench: Bench) -> None:
    """Readings carry their instrument and spread; a wrong one is replaced, with the reason."""
    said = bench.run(
        *("pen", "new", "--called", "olive", "--filling-system", "lever", "--owner", "a friend"),
        *("--material", "celluloid", "--reading", "barrel bore=7,9 mm"),
        *("--reading", "bar-height = 0.9 mm, instrument=depth gauge, spread=0,05 mm"),
    )
    lines = [re.sub(" {2,}", "  ", line) for line in said.splitlines()]
    assert lines == [
        "PEN-0001  olive  (lever; celluloid; of a friend)",
        "  barrel bore  7.9  as '7,9 mm'  reading 1",
        "  bar height  0.9  as '0.9 mm', by depth gauge, give or take 0.05 mm  reading 2",
    ]
    read = ("pen", "read", "PEN-0001", "--reading", "barrel_bore=8.0 mm")
    assert "go together" in bench.run(*read, "--corrects", "1", status=2)
    corrected = bench.json(*read, "--corrects", "1", "--why", "a burr")
    assert corrected["readings"]["barrel_bore"]["value"] == 8.0
    assert corrected["all_readings"][0]["correction"]["why"] == "a burr"
    assert bench.json("pen", "show", "PEN-0001") == corrected
    assert "already" in bench.run(*read, "--corrects", "1", "--why", "again", status=1)


def test_a_short_plan_and_a_refused_promise_end_with_1(bench: Bench) -> None:
    """What is short is told by need in the plan and in the refusal, and nothing is promised."""
    job = on_the_bench(bench)
    bench.api.post("/v1/lots/1/discard", {"quantity": 10})
    planned = bench.run("job", "plan", job, status=1)
    assert planned.startswith(f"{job}: not complete\n  need 1: 1 sac: open\n    short by 1")
    assert "order 1: a straight latex sac" in planned
    assert bench.json("job", "plan", job, status=1)["complete"] is False
    refused = bench.run("job", "reserve", job, status=1)
    assert f"{job} is short, so nothing was reserved: need 1 (sac) lacks 1" in refused
    assert bench.api.get(f"/v1/reservations?job={job}")["reservations"] == []


def test_a_named_lot_is_promised_with_a_reason_where_it_is_refused(bench: Bench) -> None:
    """Pieces of a lot by number; a refused one is 2 until --override says why, which is kept."""
    job = on_the_bench(bench)
    lot = bench.run(
        *("lot", "add", "--part", "SAC-15-STR", "--drawer", "A3", "--quantity", "3", "--number"),
        *("--measured", "outside_diameter=9 mm", "--made-on", "2026-03", "--cost", "3.00"),
    ).strip()
    named = ("job", "reserve", job, "--lot", lot)
    assert "say why under override" in bench.run(*named, status=2)
    made = bench.json(*named, "--override", "the owner's wish", "--quantity", "2")["reservations"]
    assert [(row["quantity"], row["override"]) for row in made] == [(2, "the owner's wish")]
    assert bench.run("job", "release", str(made[0]["id"]), "--quantity", "1").endswith(
        f"lot {lot}: 1 released, 1 to be fetched\n"
    )
    assert "at most" in bench.run("job", "use", str(made[0]["id"]), "--quantity", "9", status=1)


def test_a_ruined_piece_brings_the_next(bench: Bench) -> None:
    """Spoiling names what would do next, and with --reserve-next has it promised."""
    job = on_the_bench(bench)
    bench.run("job", "reserve", job)
    said = bench.run("job", "spoil", "1", "--note", "torn")
    assert said.startswith(f"reservation 1 of {job}, lot 1: 1 spoiled\n  sac lacks 1: ")
    assert "  next would be lot 1 in A3, 9 available: " in said
    bench.run("job", "reserve", job)
    said = bench.run("job", "spoil", job, "--reserve-next")
    assert f"  reserved next: reservation 3 of {job}, lot 1: 1 to be fetched\n" in said
    bench.run("job", "release", job)
    assert "nothing is promised to" in bench.run("job", "release", job, status=1)


def test_a_verb_acts_on_all_that_is_promised_to_a_job(bench: Bench) -> None:
    """Each promise is told; what is in the tray already is no fault; one that ended is refused."""
    job = on_the_bench(bench)
    for quantity in ("1", "2"):
        bench.run("job", "reserve", job, "--lot", "1", "--quantity", quantity)
    first, second = bench.json("job", "fetch", job)["reservations"]
    assert (first["in_tray"], second["in_tray"]) == (1, 2)
    assert bench.run("job", "fetch", job).count("in the tray") == 2
    bench.run("job", "use", job)
    assert "has ended: it was used" in bench.run("job", "use", str(first["id"]), status=1)


class Interrupted:
    """A client whose second request is refused."""

    def __init__(self, _configuration: object) -> None:
        self.posted: list[str] = []

    def get(self, _path: str) -> ServerAnswer:
        """Return a job."""
        return ServerAnswer("", {"number": "JOB-0001"})

    def every(self, _path: str, _plural: str, _query: object) -> list[dict[str, Any]]:
        """Return two reservations that promise something."""
        return [{"id": number, "promised": 1, "goes_with": None} for number in (1, 2)]

    def post(self, path: str, _body: object) -> ServerAnswer:
        """Do the first, refuse the second."""
        self.posted.append(path)
        if len(self.posted) > 1:
            raise Failure("the second is refused", NO)
        row = {"id": 1, "job": "JOB-0001", "lot": 7, "promised": 0, "in_tray": 0}
        ends = dict.fromkeys(("released", "spoiled", "lapsed", "settled"), 0)
        return ServerAnswer("", row | ends | {"used": 1})


def test_what_was_done_before_a_refusal_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the second of two promises is refused, the first is told as done; it ends with 1."""
    monkeypatch.setattr(promises, "Client", Interrupted)
    ran = CliRunner().invoke(job_commands.command, ["use", "JOB-0001"])
    assert ran.exit_code == 1
    assert "reservation 1 of JOB-0001, lot 7: 1 used\n" in ran.output
    assert "the second is refused" in ran.output


def test_steps_before_one_that_there_is_not_are_done(bench: Bench) -> None:
    """Of two steps the second does not exist: the first is shown as done, and it ends with 1."""
    job = on_the_bench(bench)
    said = bench.run("job", "step", job, "1", "99", status=1)
    assert re.search(r"1 +heat +done", said)
    assert "99" in said


def test_an_unfinished_job_wants_a_reason(bench: Bench) -> None:
    """Closing it is 1 and names what is unfinished; --anyway closes it and keeps the reason."""
    job = on_the_bench(bench)
    refused = bench.run("job", "close", job, status=1)
    assert "need 1 (sac) is open" in refused
    assert "say why it is closed all the same" in refused
    bench.run("job", "reserve", job)
    bench.run("job", "use", "1", "--glue", "silicone adhesive")
    told = bench.run("job", "close", job, "--outcome", "1=leaked", "--anyway", "sent back")
    assert "Closed with this unfinished:\n  - step 1" in told
    outcomes = bench.api.get("/v1/lots/1/outcomes")["outcomes"]
    assert [(each["outcome"], each["glue"]) for each in outcomes] == [
        ("leaked", "silicone adhesive")
    ]
    assert bench.json("job", "show", job)["closed_anyway"] == "sent back"


def test_jobs_are_listed_by_their_state(bench: Bench) -> None:
    """The list is narrowed by state and pen, and says what each open job lacks."""
    job = on_the_bench(bench)
    assert bench.run("job", "list", "--state", "open") == (
        f"  {job}  open  PEN-0001  lever  lacks 1\n"
    )
    bench.run("job", "reserve", job)
    assert "has all it must have" in bench.run("job", "list", "--pen", "PEN-0001")
    assert bench.run("job", "list", "--state", "closed") == "There is no such job.\n"
    assert [each["number"] for each in bench.json("job", "list")] == [job]


def test_pieces_are_taken_in_moved_and_cut(bench: Bench) -> None:
    """Each verb says which lot lies where now; promised pieces are not cut until given up."""
    bench.api.post("/v1/drawers", {"code": "B1"})
    added = bench.run("lot", "add", "--part", "SAC-15-STR", "--drawer", "A3", "--quantity", "4")
    assert added == "lot 2 in A3: 4 of SAC-15-STR\n"
    moved = bench.run("lot", "move", "2", "--to", "B1", "--quantity", "1", "--note", "for the fair")
    assert moved == "lot 3 in B1: 1 of SAC-15-STR\n"
    assert bench.json("lot", "move", "2", "--to", "B1")["place"] == "B1"
    cut = bench.run("lot", "cut", "3", "--length", "62 mm", "--no-offcut")
    assert cut == (
        "Made:\n  lot 4 in B1: 1 of SAC-15-STR  (cut, length 62.0 mm)\n"
        "Left: lot 3 in B1: 0 of SAC-15-STR\n"
    )
    job = on_the_bench(bench)
    bench.run("job", "reserve", job, "--lot", "2", "--quantity", "3")
    held = ("lot", "cut", "2", "--length", "60 mm")
    refused = bench.run(*held, status=1)
    assert job in refused
    assert "to give the promises up: --release 1" in refused
    assert len(bench.json(*held, "--release", "1")["made"]) == 2


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("pen", "new", "--called", "x"), 2, "--filling-system"),
        (("pen", "new", "--called", "x", "--filling-system", "steam"), 2, "steam"),
        ((*NEW_PEN, "--reading", "barrel_bore"), 2, "give NAME=VALUE"),
        ((*NEW_PEN, "--reading", "barrel_bore=7"), 2, "barrel_bore is given twice"),
        (("pen", "read", "PEN-0001"), 2, "--reading"),
        (("pen", "show", "PEN-0099"), 1, "there is no pen 'PEN-0099'"),
        (("pen", "read", "PEN-0099", "--reading", "barrel_bore=8"), 1, "there is no pen"),
        (("job", "open", "PEN-0099"), 2, "there is no pen 'PEN-0099'"),
        (("job", "show", "JOB-0099"), 1, "there is no job 'JOB-0099'"),
        (("job", "plan", "JOB-0099"), 1, "there is no job 'JOB-0099'"),
        (("job", "reserve", "JOB-0099"), 1, "there is no job 'JOB-0099'"),
        (("job", "reserve", "JOB-0001", "--quantity", "2"), 2, "go with --lot"),
        (("job", "fetch", "99"), 1, "there is no reservation 99"),
        (("job", "use", "JOB-0099"), 1, "there is no job 'JOB-0099'"),
        (("job", "use", "JOB-0001", "--quantity", "1"), 2, "goes with the number of a reservation"),
        (("job", "use", "7x"), 1, "there is no job '7x'"),
        (("job", "spoil"), 2, "RESERVATION|JOB"),
        (("job", "step", "JOB-0001"), 2, "STEPS"),
        (("job", "step", "JOB-0099", "1"), 1, "there is no job 'JOB-0099'"),
        (("job", "list", "--state", "opne"), 2, "opne"),
        (("job", "close", "JOB-0099"), 1, "there is no job 'JOB-0099'"),
        (("job", "close", "JOB-0001", "--outcome", "a=good"), 2, "RESERVATION=HOW"),
        (("job", "close", "J", "--outcome", "good", "--outcome", "bad"), 2, "good or bad"),
        (("job", "close", "JOB-0001", "--test", "air"), 2, "give NAME=VALUE"),
        (("lot", "add", "--part", "NIX", "--drawer", "A3", "--quantity", "1"), 2, "no part 'NIX'"),
        (("lot", "add", "--part", "SAC-15-STR", "--drawer", "A3"), 2, "--quantity"),
        (("lot", "move", "99", "--to", "A3"), 1, "there is no bag 99"),
        (("lot", "move", "1", "--to", "Z9"), 2, "there is no drawer 'Z9'"),
        (("lot", "cut", "1", "--length", "90"), 2, "only 75 mm"),
        (("lot", "cut", "x", "--length", "9"), 2, "x"),
        (("stock", "check", "--part", "NIX"), 2, "there is no part 'NIX'"),
        (("stock", "check"), 2, "give --kind or --part"),
    ],
)
def test_refusals_have_their_status(
    stocked: Any, arguments: tuple[str, ...], status: int, said: str
) -> None:
    """Wrong usage is 2, what is not there is 1, each told in a sentence and without a trace."""
    ran = stocked[0].run(*arguments)
    assert (ran.status, ran.out) == (status, ""), ran.err
    assert said in ran.err
    assert "Traceback" not in ran.err


def test_a_part_is_checked_by_its_number(stocked: Any) -> None:
    """Of a part ten are there: ten are enough, eleven are short, and a size narrows it too."""
    check = ("stock", "check", "--part", "SAC-15-STR")
    assert stocked[0].run(*check, "--at-least", "10").status == 0
    short = stocked[0].run(*check, "--at-least", "11")
    assert (short.status, short.out.splitlines()[0]) == (1, "10 available, 11 wanted: short by 1")
    assert stocked[0].run(*check, "--outside-diameter", "7").status == 1


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (("pen", "show", "PEN-0099"), 1),
        (("job", "plan", "JOB-0099"), 1),
        (("lot", "move", "99", "--to", "A3"), 1),
    ],
)
def test_the_commands_import_no_server(
    stocked: Any, arguments: tuple[str, ...], status: int
) -> None:
    """The commands that only ask do without the server's libraries, or they would be slow."""
    ran = stocked[0].python("-X", "importtime", "-m", "sparewell.cli.main", *arguments)
    assert ran.status == status
    imported = set(re.findall(r"\| +([\w.]+)$", ran.err, re.MULTILINE))
    assert "urllib3" in imported
    assert {name.partition(".")[0] for name in imported} & HEAVY == set()


def test_the_words_of_the_options_are_the_servers() -> None:
    """The states and outcomes that the help lists are those that the tables know."""
    assert tuple(JobState) == job_commands.STATES
    assert tuple(TurnedOut) == job_commands.OUTCOMES
