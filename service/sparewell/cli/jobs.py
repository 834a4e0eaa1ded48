"""`sparewell job`: a repair from its opening to its close."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import click

from sparewell.cli.answers import columns
from sparewell.cli.asking import (
    LARGEST_PAGE,
    address_of,
    echo_json,
    given,
    json_option,
    named_values,
    number_option,
    spoken,
)
from sparewell.cli.client import Client
from sparewell.cli.failures import EXIT_STATUSES, configuration
from sparewell.cli.plans import plan, reserve
from sparewell.cli.promises import fetch, moved_line, release, spoil, use

STATES = ("open", "closed", "cancelled")
OUTCOMES = ("good", "tight", "loose", "leaked")
_HOW = "good for all pieces, or RESERVATION=HOW, such as 1=good"
_PASSED = {"passed": True, "failed": False}


@click.group()
def command() -> None:
    """Repair a pen: plan what it needs, reserve, fetch and use the pieces, close the job.

    \b
    Example: sparewell job open PEN-0001
             sparewell job plan JOB-0001 && sparewell job reserve JOB-0001
             sparewell job fetch JOB-0001 && sparewell job use JOB-0001
             sparewell job close JOB-0001 --outcome good --anyway "tested by the owner"
    """  # noqa: D301 - click reads the backspace as "keep these lines"


@command.command("open", epilog=EXIT_STATUSES)
@click.argument("pen")
@click.option("--wishes", default="", help="What the owner wishes.")
@click.option("--promised-on", help="The day on which it is promised, such as 2026-12-01.")
@click.option("--ceiling", help="What it may cost at most.")
@click.option("--note", default="", help="A note.")
@number_option("the new job's number")
@json_option("the job")
def open_job(*, pen: str, alone: bool, as_json: bool, **said: str | None) -> None:
    """Open a job on a pen; it copies the template of its filling system.

    Example: sparewell job open PEN-0001 --promised-on 2026-12-01
    """
    job = Client(configuration()).post("/v1/jobs", {"pen": pen, **given(**said)}).body
    if alone and not as_json:
        click.echo(job["number"])
    else:
        _print(job, as_json=as_json)


@command.command(epilog=EXIT_STATUSES)
@click.argument("number")
@json_option("the job")
def show(*, number: str, as_json: bool) -> None:
    """Show a job: what it needs, its steps, and what is in the way of closing it.

    Example: sparewell job show JOB-0001
    """
    _print(Client(configuration()).get(address_of("jobs", number)).body, as_json=as_json)


@command.command("list", epilog=EXIT_STATUSES)
@click.option("--state", type=click.Choice(STATES), help="Only jobs that stand so.")
@click.option("--pen", help="Only jobs on this pen.")
@json_option("the jobs")
def list_jobs(*, as_json: bool, **wanted: str | None) -> None:
    """List the jobs, oldest first.

    Example: sparewell job list --state open
    """
    query = {"limit": LARGEST_PAGE, **given(**wanted)}
    jobs = list(Client(configuration()).every("/v1/jobs", "jobs", query))
    if as_json:
        echo_json(jobs)
    elif jobs:
        click.echo("\n".join(columns([_row(job) for job in jobs])))
    else:
        click.echo("There is no such job.")


@command.command(epilog=EXIT_STATUSES)
@click.argument("number")
@click.argument("steps", nargs=-1, required=True, type=click.IntRange(1))
@click.option("--not-needed", metavar="WHY", help="This pen does not need them, and why.")
@click.option("--note", default="", help="How it went.")
@json_option("the job")
def step(
    *, number: str, steps: tuple[int, ...], not_needed: str | None, note: str, as_json: bool
) -> None:
    """Note that steps are done; STEPS are their numbers as `show` prints them.

    \b
    Example: sparewell job step JOB-0001 1 2 3
             sparewell job step JOB-0001 9 --not-needed "the barrel is whole"
    """  # noqa: D301 - as above
    client = Client(configuration())
    body = given(not_needed=not_needed, note=note)
    job = None
    try:
        for position in dict.fromkeys(steps):
            job = client.post(address_of("jobs", number, "steps", str(position), "done"), body).body
    finally:
        if job is not None:  # steps before one that is refused are done
            _print(job, as_json=as_json)


@command.command(epilog=EXIT_STATUSES)
@click.argument("number")
@click.option(
    "--outcome",
    "outcomes",
    multiple=True,
    metavar="[RESERVATION=]HOW",
    help=f"How its pieces turned out: {', '.join(OUTCOMES)}; of one reservation, or of all that "
    "are not named. May be given again.",
)
@click.option(
    "--test",
    "tests",
    multiple=True,
    metavar="NAME=VALUE",
    help='What a test showed: "fill=0.9 ml", or that it passed or failed: "air=passed". May be '
    "given again.",
)
@click.option("--glue", help="What its pieces were glued with.")
@click.option("--ink", help="What it was filled with.")
@click.option("--minutes", "time_minutes", type=click.IntRange(0), help="How long it took.")
@click.option("--value", "value_as_restored", help="What the pen is worth now.")
@click.option("--anyway", metavar="WHY", help="Why it is closed though something is unfinished.")
@click.option("--note", default="", help="A note.")
@json_option("the job")
def close(
    *,
    number: str,
    outcomes: tuple[str, ...],
    tests: tuple[str, ...],
    as_json: bool,
    **said: Any,
) -> None:
    """Close a job and note how it went; what is unfinished is in the way, unless --anyway says why.

    Example: sparewell job close JOB-0001 --outcome good --test "fill=0.9 ml" --glue shellac
    """
    client, body = Client(configuration()), given(**said)
    if tests:
        told = named_values("--test", tests, 'NAME=VALUE, such as fill="0.9 ml" or air=passed')
        body["tests"] = [
            {"name": name, **({"passed": _PASSED[text]} if text in _PASSED else {"value": text})}
            for name, text in told.items()
        ]
    if outcomes:
        body["outcomes"] = _outcomes(client, number, outcomes)
    job = client.post(address_of("jobs", number, "close"), body).body
    _print(job, as_json=as_json)


def _outcomes(client: Client, number: str, texts: Sequence[str]) -> list[dict[str, Any]]:
    """Return each outcome with its reservation; one without goes to all others that were used."""
    of_all = [text for text in texts if "=" not in text]
    if len(of_all) > 1:
        raise click.UsageError(f"--outcome: {' or '.join(of_all)}, not both for all pieces")
    named = [text for text in texts if "=" in text]
    found = named_values("--outcome", named, _HOW)
    if unnumbered := [name for name in found if not (name.isascii() and name.isdecimal())]:
        raise click.UsageError(f"--outcome {unnumbered[0]}={found[unnumbered[0]]}: give {_HOW}")
    by_id = {int(row_id): outcome for row_id, outcome in found.items()}
    if of_all:
        query = {"job": number, "limit": LARGEST_PAGE}
        rows = client.every("/v1/reservations", "reservations", query)
        by_id = {row["id"]: of_all[0] for row in rows if row["used"]} | by_id
    return [{"reservation": row_id, "outcome": outcome} for row_id, outcome in by_id.items()]


def _row(job: Mapping[str, Any]) -> tuple[str, ...]:
    said = [f"promised on {job['promised_on']}"] if job["promised_on"] else []
    open_needs = sum(need["state"] == "open" and not need["optional"] for need in job["needs"])
    if job["state"] == "open":
        said.append(f"lacks {open_needs}" if open_needs else "has all it must have")
    return job["number"], job["state"], job["pen"], spoken(job["filling_system"]), ", ".join(said)


def _print(job: Mapping[str, Any], *, as_json: bool) -> None:
    if as_json:
        echo_json(job)
    else:
        click.echo("\n".join(_job_lines(job)))


def _job_lines(job: Mapping[str, Any]) -> Iterator[str]:
    yield f"{job['number']}  {job['pen']}  {job['state']}  ({spoken(job['filling_system'])})"
    if job["needs"]:
        yield "Needs:"
        yield from columns(
            [
                (
                    f"need {need['id']}",
                    f"{need['quantity']} {spoken(need['kind'])}",
                    need["state"] + (", optional" if need["optional"] else ""),
                )
                for need in job["needs"]
            ]
        )
    if job["steps"]:
        yield "Steps:"
        yield from columns([_step_row(each) for each in job["steps"]])
    if job["tests"]:
        yield "Tests:"
        yield from columns([(spoken(test["name"]), test["passes"]) for test in job["tests"]])
    if job["unfinished"]:
        yield "Closed with this unfinished:" if job["state"] == "closed" else "Before it closes:"
        yield from (f"  - {sentence}" for sentence in job["unfinished"])
    yield from (f"Moved: {moved_line(each)}" for each in job["moved"])
    yield from (f"Mind: {sentence}" for sentence in job["warnings"])


def _step_row(each: Mapping[str, Any]) -> tuple[str, ...]:
    if each["done"]:
        stands = "not needed" if each["not_needed"] else "done"
    else:
        stands = "" if each["owed"] else "not owed"
    return str(each["position"]), spoken(each["name"]), stands


for each_verb in (plan, reserve, fetch, use, spoil, release):
    command.add_command(each_verb)
