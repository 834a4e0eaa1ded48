"""What is said of a promise that moved aside, who has read it, and how it is taken back."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import update

from conftest import NOW
from sparewell.audit.pieces import audit
from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.extend.host import Declarations
from sparewell.jobs.ground import ground_of
from sparewell.jobs.held import held
from sparewell.jobs.operations import find_job
from sparewell.plans.moving import settle
from sparewell.reservations.promising import NewPromise
from sparewell.reservations.settling import Move
from sparewell.reservations.tables import Reservation
from sparewell.work import Actor, Stale, Work
from support.api import Api, Reply
from support.moving import P15, P16, ask, held_by, promise_of, sac


def moved(api: Api) -> tuple[str, str, dict[str, Any]]:
    """Let a promise of one job move for another; return the two jobs, and what moved."""
    sac(api, 15)
    large, small = api.job(**P16), api.job(**P15)
    held_by(api, large)
    sac(api, 16)
    (found,) = ask(api, small).body["moved"]
    return large, small, found


def told(api: Api, job: str) -> list[dict[str, Any]]:
    """What a job says of promises that moved."""
    return list(api.get(f"/v1/jobs/{job}").body["moved"])


def test_both_jobs_say_so_until_each_has_read_it(api: Api) -> None:
    """A job that has read it says no more of it, and the other still does; twice is no fault."""
    large, small, found = moved(api)
    assert told(api, large) == told(api, small) == [found]
    assert [job["moved"] for job in api.get("/v1/jobs").body["jobs"]] == [[found], [found]]
    path = f"moved/{found['reservation']}/read"
    for _ in range(2):
        reply = api.post(f"/v1/jobs/{large}/{path}")
        assert (reply.status, reply.body["moved"]) == (200, [])
    assert (told(api, large), told(api, small)) == ([], [found])
    assert api.post(f"/v1/jobs/{small}/{path}").status == 200
    assert told(api, small) == []


def test_only_what_moved_of_a_job_or_for_it_is_read_there(api: Api) -> None:
    """Any other reservation is unknown there, and the refusal says so."""
    large, _, found = moved(api)
    stranger = api.job()
    for job, row in ((stranger, found["reservation"]), (large, found["moved_to"]), (large, 99)):
        reply = api.post(f"/v1/jobs/{job}/moved/{row}/read")
        assert reply.status == 404
        assert reply.body["detail"] == f"no reservation {row} of {job}, or for it, has moved"


@pytest.mark.parametrize("verb", ["fetch", "use", "release", "spoil"])
def test_a_verb_on_a_promise_that_moved_names_what_took_its_place(api: Api, verb: str) -> None:
    """It has ended, and the problem has the reservation to name instead."""
    _, _, found = moved(api)
    reply = api.post(f"/v1/reservations/{found['reservation']}/{verb}")
    assert reply.status == 409
    assert "it was settled; reservation 3 took its place" in reply.body["detail"]
    assert [each["reservation"] for each in reply.body["errors"]] == [found["moved_to"]]
    assert api.post(f"/v1/reservations/{found['moved_to']}/{verb}").status == 200


def test_whether_a_promise_stays_is_changed_with_its_tag_only(api: Api) -> None:
    """Without a tag, with an old one, after the end or with nonsense nothing is changed."""
    sac(api, 15)
    row = held_by(api, api.job())["id"]
    path = f"/v1/reservations/{row}"
    tag = api.get(path).headers["ETag"]
    assert api.call("PATCH", path, {"pinned": True}).status == 428
    for said in ({"pinned": None}, {"pinned": "yes please"}, {"state": "used"}):
        assert api.patch(path, said).status == 422, said
    assert api.patch(path, {"pinned": True}).body["pinned"] is True
    assert api.patch(path, {"pinned": False}, If_Match=tag[:-2] + 'x"').status == 412
    assert api.patch(path, {}).body["pinned"] is True
    api.post(f"{path}/release")
    assert api.patch(path, {"pinned": False}).status == 409
    assert api.get("/v1/reservations?state=settled").body["reservations"] == []


def back(api: Api, found: dict[str, Any]) -> Reply:
    """Ask for the old piece again."""
    return api.post(f"/v1/reservations/{found['moved_to']}/move-back")


def test_a_promise_moves_back_where_its_old_piece_is_free(api: Api) -> None:
    """It has that piece again, stays there, and neither job has anything more to read."""
    large, small, found = moved(api)
    refused = back(api, found)
    assert refused.status == 409
    assert refused.body["detail"].endswith(f"0 available; the others are promised to {small}")
    assert refused.body["errors"][0]["jobs"] == [small]
    api.post(f"/v1/jobs/{small}/cancel")
    again = back(api, found)
    assert again.status == 201, again.text
    assert (again.body["lot"], again.body["pinned"]) == (found["lot"], True)
    assert promise_of(api, found["moved_to"])["moved_to"] == again.body["id"]
    assert (told(api, large), told(api, small)) == ([], [])
    assert back(api, found).status == 409
    other = api.post(f"/v1/reservations/{found['reservation']}/move-back")
    assert "did not take the place of another" in other.body["detail"]
    assert api.post("/v1/reservations/99/move-back").status == 404


def test_what_is_fetched_or_would_not_do_any_more_does_not_move_back(api: Api) -> None:
    """The refusal says what is in the way."""
    _, small, found = moved(api)
    api.post(f"/v1/jobs/{small}/cancel")
    api.patch(f"/v1/lots/{found['lot']}", {"measured": {"outside_diameter": "9 mm"}})
    assert "would not do any more" in back(api, found).body["detail"]
    api.post(f"/v1/reservations/{found['moved_to']}/fetch")
    assert "is in_tray: only what is held" in back(api, found).body["detail"]


def test_the_pen_s_history_says_that_its_piece_moved(api: Api) -> None:
    """What left, what took its place, and for whom."""
    _, small, found = moved(api)
    events = api.get("/v1/pens/PEN-0001/history").body["history"]
    (event,) = [each for each in events if each["what"] == "moved_aside"]
    assert f"left to {small}" in event["sentence"]
    assert event["details"]["moved_to"] == found["moved_to"]


def test_the_audit_looks_for_what_took_the_place(api: Api, database: Database) -> None:
    """A promise that was settled and that nothing of its kind replaced is told."""
    _, _, found = moved(api)
    of_it = update(Reservation).where(Reservation.id == found["reservation"])
    for successor in (None, found["reservation"], 2):
        write(
            database,
            lambda session, to=successor: session.execute(of_it.values(moved_to_id=to)),  # type: ignore[misc]
        )
        with read(database) as session:
            (fault,) = audit(session).faults
        assert fault == "reservation 1: it was settled, and nothing took its place"
    write(database, lambda session: session.execute(of_it.values(moved_to_id=found["moved_to"])))


CAP_AND_CLIP = [{"kind": "cap"}, {"kind": "clip", "part_of": 0}]


@pytest.mark.differs
def test_what_is_fixed_in_a_piece_goes_along_and_two_may_change_places(
    api: Api, database: Database, declared: Declarations
) -> None:
    """Caps of donors are exchanged in one call, each with its clip; a second time it is stale."""
    jobs = [api.job(), api.job()]
    rows, caps = [], []
    for job in jobs:
        donor = api.post("/v1/donors", {"called": "a donor", "components": CAP_AND_CLIP}).body
        caps.append(donor["components"][0]["lot"])
        row = held_by(api, job, lot=caps[-1], quantity=1, override="tried")
        assert api.patch(f"/v1/reservations/{row['id']}", {"pinned": False}).status == 200
        rows.append(row["id"])

    def exchange(session: Any) -> list[tuple[int, int]] | None:
        work = Work(session, NOW, Actor("a test"), declared)
        found = [find_job(session, number) for number in jobs]
        grounds = [ground_of(work, job, held(session, [job])) for job in found]
        moves = [
            Move(row, NewPromise(lot, 1, job.id), None)
            for row, lot, job in zip(rows, reversed(caps), found, strict=True)
        ]
        made = settle(work, grounds, moves, [], None)
        return None if made is None else [(row.job_id, row.lot_id) for row in made]

    assert write(database, exchange) == [(1, caps[1]), (2, caps[0])]
    standing = [
        (each["job"], each["lot"])
        for each in api.get("/v1/reservations").body["reservations"]
        if each["promised"]
    ]
    assert sorted(standing) == sorted(
        (job, lot) for job, cap in zip(jobs, reversed(caps), strict=True) for lot in (cap, cap + 1)
    )
    with pytest.raises(Stale):
        write(database, exchange)
    with read(database) as session:
        assert audit(session).faults == ()


def test_all_of_an_evening_is_settled_or_nothing(
    api: Api, database: Database, declared: Declarations
) -> None:
    """Where one piece is not there nothing is promised, and whoever asks must not commit."""
    sac(api, 15)
    job = api.job(**P16)
    row = held_by(api, job)["id"]
    free = sac(api, 16)

    def too_much(session: Any) -> Any:
        work = Work(session, NOW, Actor("a test"), declared)
        found = find_job(session, job)
        need = found.needs[0].id
        move = Move(row, NewPromise(free, 1, found.id, need), None)
        more = [NewPromise(free, 1, found.id)]
        grounds = [ground_of(work, found, held(session, [found]))]
        made = settle(work, grounds, [move], more, None)
        session.rollback()
        return made

    assert write(database, too_much) is None
    assert promise_of(api, row)["state"] == "held"
