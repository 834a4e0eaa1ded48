"""A pen's way over the bench page: in, measured, reserved, fitted, closed; and what is refused."""

from __future__ import annotations

import pytest

from conftest import Clock
from support.api import ANYWAY, BODY, Api
from support.bench import Bench, Page
from support.moving import P15, P16, held_by, sac


def job_page(bench: Bench, job: str) -> Page:
    """The page of a job."""
    page = bench.get(f"/jobs/{job}")
    assert page.status == 200
    return page


def reserved(bench: Bench, api: Api) -> tuple[str, int]:
    """A job with its sac reserved; its number, and the reservation's."""
    api.stock()
    job = api.job()
    page = bench.send(job_page(bench, job), f"/jobs/{job}/reserve", "Reserve all it needs")
    assert "Reserved." in page.text, page.problems
    (reservation,) = api.get(f"/v1/reservations?job={job}").body["reservations"]
    return job, reservation["id"]


def test_a_piece_that_moved_is_said_on_both_pages_until_it_is_read(bench: Bench, api: Api) -> None:
    """One line with a button; the job whose piece it was may have that piece again."""
    sac(api, 15)
    large, small = api.job(**P16), api.job(**P15)
    held_by(api, large, "Odra")
    button = "Reserve it if other pens can take another piece"
    page = bench.send(job_page(bench, small), f"/jobs/{small}/reserve", button)
    assert any("nothing else that could be had" in each for each in page.problems)
    sac(api, 16)
    page = bench.send(page, f"/jobs/{small}/reserve", button)
    assert f"{large} took bag 2 instead of bag 1" in page.text, page.problems
    assert "Take the old piece again" not in page.text
    page = bench.send(page, f"/jobs/{small}/moved/1", "Read")
    assert "instead of bag 1" not in page.text
    page = job_page(bench, large)
    assert f"which {small} takes" in page.text
    refused = bench.send(page, f"/jobs/{large}/moved-back/3", "Take the old piece again")
    assert refused.status == 409
    assert f"0 available; the others are promised to {small}" in refused.problems[0]
    api.post(f"/v1/jobs/{small}/cancel")
    page = bench.send(refused, f"/jobs/{large}/moved-back/3", "Take the old piece again")
    assert (page.status, "Reserved." in page.text) == (200, True)
    assert "instead of" not in page.text


def test_a_pen_comes_in_with_the_readings_of_its_filling_system(bench: Bench, api: Api) -> None:
    """The form asks what that system is sized by, and opens the job at once."""
    chosen = bench.send(bench.get("/pens/new"), "/pens/new", "Go on", filling_system="lever")
    asked = {name for name, _ in chosen.form("/pens/new").fields if name.startswith("reading:")}
    assert {f"reading:{name}" for name in BODY} <= asked
    typed = {f"reading:{name}": value for name, value in BODY.items()}
    job = bench.send(
        chosen,
        "/pens/new",
        **typed,
        called="olive pen",
        materials="celluloid, hard rubber",
        owner="P. Tarrobald",
        ceiling="40",
    )
    assert (job.path, job.status) == ("/jobs/JOB-0001", 200)
    assert "olive pen" in job.text
    (pen,) = api.get("/v1/pens").body["pens"]
    assert pen["materials"] == ["celluloid", "hard rubber"]
    assert api.get("/v1/jobs/JOB-0001").body["ceiling"] == "40.00"


def test_a_refused_pen_keeps_everything_that_was_typed(bench: Bench, api: Api) -> None:
    """The fault stands at its field; no pen and no job is left behind."""
    page = bench.post(
        "/pens/new",
        {"filling_system": "lever", "called": "olive", "reading:barrel_bore": "8 cubits"},
    )
    assert page.status == 422
    assert "reading:barrel_bore" in page.faults
    assert page.form("/pens/new")["reading:barrel_bore"] == "8 cubits"
    assert page.form("/pens/new")["called"] == "olive"
    assert api.get("/v1/pens").body["pens"] == []


def test_from_reserved_to_fitted_to_closed(bench: Bench, api: Api) -> None:
    """Fetched, fitted and closed with a press each; the pen says what is in it."""
    job, reservation = reserved(bench, api)
    act = f"/jobs/{job}/reservations/{reservation}"
    page = bench.send(job_page(bench, job), act, "In the tray")
    assert "in the tray" in page.text
    page = bench.send(page, act, "Fitted")
    assert "Noted as fitted." in page.text
    closed = bench.send(
        page,
        f"/jobs/{job}/close",
        **{
            f"outcome:{reservation}": "good",
            "ink": "blue black",
            "anyway": "steps done on paper",
        },
    )
    assert "The job is closed." in closed.text
    pen = bench.get("/pens/PEN-0001")
    assert "SAC-15-STR from bag 1" in pen.text
    assert "good" in pen.text


def test_ruined_at_fitting_asks_for_another_one(bench: Bench, api: Api) -> None:
    """One press writes the piece off, and the need shows the next piece."""
    job, reservation = reserved(bench, api)
    page = bench.send(
        job_page(bench, job), f"/jobs/{job}/reservations/{reservation}", "Ruined at fitting"
    )
    assert page.form(f"/jobs/{job}/reserve", "Reserve from A3")
    assert api.get("/v1/lots/1").body["in_hand"] == 9


def test_what_was_fitted_by_mistake_is_put_back(bench: Bench, api: Api) -> None:
    """A press too much is answered by taking the piece out again, as new, a bag of its own."""
    job, reservation = reserved(bench, api)
    page = bench.send(job_page(bench, job), f"/jobs/{job}/reservations/{reservation}", "Fitted")
    page = bench.send(page, f"/jobs/{job}/put-back/1", "It is as new")
    assert "Back in stock" in page.text
    (again,) = [lot for lot in api.get("/v1/lots").body["lots"] if lot["parent_lot"] == 1]
    assert (again["in_hand"], again["place"], again["condition"]) == (1, "A3", "as new")


def test_what_is_given_back_is_free_again(bench: Bench, api: Api) -> None:
    """Giving back needs one press, and the piece can be promised to another job."""
    job, reservation = reserved(bench, api)
    bench.send(job_page(bench, job), f"/jobs/{job}/reservations/{reservation}", "Give back")
    assert api.get("/v1/lots/1").body["promised"] == 0


def test_a_thumb_that_slips_fits_one_piece(bench: Bench, api: Api) -> None:
    """The same press sent twice is done once."""
    job, reservation = reserved(bench, api)
    page = job_page(bench, job)
    act = f"/jobs/{job}/reservations/{reservation}"
    first, second = bench.send(page, act, "Fitted"), bench.send(page, act, "Fitted")
    assert (first.status, second.status) == (200, 200)
    assert api.get("/v1/lots/1").body["in_hand"] == 9


def test_a_piece_lost_to_another_job_is_told_with_its_name(bench: Bench, api: Api) -> None:
    """The last piece went to somebody else meanwhile: the page says to whom, and what to order."""
    lot, job, other = api.stock(1)["id"], api.job(), api.job()
    page = job_page(bench, job)
    api.post(f"/v1/jobs/{other}/reservations", {"lot": lot, "quantity": 1})
    lost = bench.send(page, f"/jobs/{job}/reserve", "Reserve from A3")
    assert lost.status == 409
    assert other in lost.problems[0]
    assert "1 short." in lost.text


def test_a_verb_after_the_end_is_refused_plainly(bench: Bench, api: Api) -> None:
    """An old page's button says what became of the piece, and changes nothing."""
    job, reservation = reserved(bench, api)
    old = job_page(bench, job)
    api.post(f"/v1/reservations/{reservation}/release")
    page = bench.send(old, f"/jobs/{job}/reservations/{reservation}", "Fitted")
    assert page.status == 409
    assert page.problems
    assert api.get("/v1/lots/1").body["in_hand"] == 10


def test_readings_are_added_where_the_job_asks_for_them(bench: Bench, api: Api) -> None:
    """What is missing is named; typed in, it is noted, and a fault keeps it in its field."""
    api.stock()
    pen = api.post("/v1/pens", {"called": "x", "filling_system": "lever"}).body["number"]
    job = api.post("/v1/jobs", {"pen": pen}).body["number"]
    page = job_page(bench, job)
    assert "Still to be read" in page.text
    faulty = bench.send(page, f"/jobs/{job}/readings", **{"reading:barrel_bore": "wide"})
    assert (faulty.status, list(faulty.faults)) == (422, ["reading:barrel_bore"])
    typed = {f"reading:{name}": value for name, value in BODY.items()}
    page = bench.send(faulty, f"/jobs/{job}/readings", **typed)
    assert page.form(f"/jobs/{job}/reserve", "Reserve all it needs")


def test_a_need_is_dropped_with_its_reason_and_taken_back(bench: Bench, api: Api) -> None:
    """The reason is shown with the need until it is wanted after all."""
    job = api.job()
    bar = next(n for n in api.get(f"/v1/jobs/{job}").body["needs"] if n["kind"] == "pressure_bar")
    act = f"/jobs/{job}/needs/{bar['id']}"
    page = bench.send(job_page(bench, job), act, "Drop it", why="the old bar is sound")
    assert "the old bar is sound" in page.text
    page = bench.send(page, act, "Wanted after all")
    assert page.form(act, "Drop it")


def test_what_waits_is_listed_by_what_is_ready(bench: Bench, api: Api, clock: Clock) -> None:
    """A timer outlives the page; when its time has come it stands first and says so."""
    job = api.job()
    bench.send(job_page(bench, job), f"/jobs/{job}/timers", what="shellac", minutes="30")
    assert "ready" not in bench.get("/jobs").text.split("Jobs")[-1].split("Closed")[0]
    clock.now = clock.now.replace(hour=13)
    page = bench.get("/jobs")
    assert "shellac ready" in page.text
    timer = api.get("/v1/timers").body["timers"][0]["id"]
    page = bench.send(page, f"/timers/{timer}", "End the timer: shellac")
    assert "shellac" not in page.text


def test_steps_have_their_cautions_before_them(bench: Bench, api: Api) -> None:
    """Each step shows what to mind; done is noted and can be taken back."""
    job = api.job()
    page = job_page(bench, job)
    assert "Celluloid (cellulose nitrate) burns" in page.text.split("Steps")[0]
    page = bench.send(page, f"/jobs/{job}/steps/1", "Done: heat")
    assert api.get(f"/v1/jobs/{job}").body["steps"][0]["done"]
    bench.send(page, f"/jobs/{job}/steps/1", "Not done after all")
    assert not api.get(f"/v1/jobs/{job}").body["steps"][0]["done"]


@pytest.mark.parametrize(("field", "typed"), [("ceiling", "a lot"), ("promised_on", "tomorrow")])
def test_what_was_agreed_is_refused_at_its_field(
    bench: Bench, api: Api, field: str, typed: str
) -> None:
    """A ceiling or a day that cannot be read stays in its field with the reason."""
    job = api.job()
    page = bench.send(job_page(bench, job), f"/jobs/{job}/agree", **{field: typed})
    assert page.status == 422
    assert field in page.faults
    assert page.form(f"/jobs/{job}/agree")[field] == typed


def test_what_was_agreed_can_be_taken_back(bench: Bench, api: Api) -> None:
    """A field that is emptied is emptied; a form of a page that is out of date changes nothing."""
    job = api.job()
    act, path = f"/jobs/{job}/agree", f"/v1/jobs/{job}"
    said = {"wishes": "no polish", "promised_on": "2026-12-24", "ceiling": "40", "time_minutes": 9}
    api.patch(path, said)
    page = job_page(bench, job)
    emptied = dict.fromkeys(said, "")
    bench.send(page, act, **emptied)
    assert [api.get(path).body[name] for name in said] == ["", None, None, None]
    api.patch(path, {"ceiling": "55"})
    late = bench.send(page, act, wishes="mine")
    assert (late.status, api.get(path).body["ceiling"]) == (409, "55.00")


def test_a_closed_job_is_noted_as_sold(bench: Bench, api: Api) -> None:
    """Day, price, buyer and warranty are noted, shown and taken back; an open job has no form."""
    job = api.job()
    act, path = f"/jobs/{job}/sold", f"/v1/jobs/{job}"
    assert "Sold, and its warranty" not in job_page(bench, job).text
    api.post(f"{path}/close", ANYWAY)
    sale = {"sold_on": "2026-11-25", "price": "120.00", "sold_to": "a lady"}
    page = job_page(bench, job)
    bench.send(page, act, **sale, warranty_until="2027-11-24")
    assert {name: api.get(path).body[name] for name in sale} == sale
    assert "to a lady" in job_page(bench, job).text
    late = bench.send(page, act, price="1")
    assert (late.status, api.get(path).body["price"]) == (409, "120.00")
    wrong = bench.send(job_page(bench, job), act, warranty_until="2026-11-24")
    assert (wrong.status, "warranty_until" in wrong.faults) == (422, True)
    assert wrong.form(act)["warranty_until"] == "2026-11-24"
    bench.send(job_page(bench, job), act, **dict.fromkeys((*sale, "warranty_until"), ""))
    assert api.get(path).body["price"] is None


def test_a_step_is_left_out_with_a_reason_only(bench: Bench, api: Api) -> None:
    """A reason of spaces is none, and the step is as it was."""
    job = api.job()
    act = f"/jobs/{job}/steps/1"
    page = bench.send(job_page(bench, job), act, "Leave it out", not_needed="  ")
    assert page.status == 422
    assert not api.get(f"/v1/jobs/{job}").body["steps"][0]["done"]


def test_what_is_no_decision_decides_nothing(bench: Bench, api: Api) -> None:
    """A form that asks for something else than a need knows is refused."""
    job = api.job()
    need = api.get(f"/v1/jobs/{job}").body["needs"][0]["id"]
    assert bench.post(f"/jobs/{job}/needs/{need}", {"what": "explode"}).status == 422


def test_a_setting_is_changed_with_a_reason_only_as_it_was_seen(bench: Bench, api: Api) -> None:
    """Without a reason, or after somebody else changed it, nothing happens and it says why."""
    page = bench.get("/settings/sac.end_gap")
    act = "/settings/sac.end_gap"
    assert bench.send(page, act, value="5 mm", why="").status == 422
    api.patch("/v1/settings/sac.end_gap", {"value": 6, "why": "meanwhile"})
    late = bench.send(page, act, value="5 mm", why="mine")
    assert late.status == 412
    assert late.form(act)["value"] == "5 mm"
    assert "5 mm" in bench.send(bench.get(act), act, value="5 mm", why="mine").text


def test_ended_jobs_are_read_a_page_at_a_time(bench: Bench, api: Api) -> None:
    """The page of ended jobs goes on from where it stopped, and shows no open one."""
    numbers = [api.job() for _ in range(42)]
    for number in numbers[:-1]:
        api.post(f"/v1/jobs/{number}/cancel")
    page = bench.get("/jobs/ended")
    assert numbers[0] in page.text
    assert numbers[40] not in page.text
    following = bench.get(page.links["Later ones"])
    assert numbers[40] in following.text
    assert numbers[41] not in following.text
    assert "Later ones" in bench.get("/pens").links


def test_ruined_has_a_way_back_in_its_notice(bench: Bench, api: Api) -> None:
    """The notice offers Undo, and one press makes the piece whole, promised and in hand again."""
    job, reservation = reserved(bench, api)
    act = f"/jobs/{job}/reservations/{reservation}"
    page = bench.send(job_page(bench, job), act, "Ruined at fitting")
    (form,) = [each for each in page.forms if each.action.startswith("/undo/")]
    back = bench.send(page, form.action, "Undo")
    assert (back.path, "Undone." in back.text) == (f"/jobs/{job}", True)
    row = api.get(f"/v1/reservations/{reservation}").body
    assert (row["state"], row["spoiled"], row["promised"]) == ("held", 0, 1)


def test_a_step_and_a_fitting_are_undone_from_their_notices(bench: Bench, api: Api) -> None:
    """A press too much on Done or on Fitted is taken back where it is told."""
    job, reservation = reserved(bench, api)
    page = bench.send(job_page(bench, job), f"/jobs/{job}/steps/1", "Done: heat")
    bench.send(page, f"/jobs/{job}/steps/1", "Undo")
    assert api.get(f"/v1/jobs/{job}").body["steps"][0]["done"] is False
    page = bench.send(job_page(bench, job), f"/jobs/{job}/reservations/{reservation}", "Fitted")
    (form,) = [each for each in page.forms if each.has_button("Undo")]
    bench.send(page, form.action, "Undo")
    assert api.get(f"/v1/jobs/{job}").body["needs"][0]["state"] == "open"


@pytest.mark.parametrize("undo", ["group-1/../x", "//evil", "JOB-1-step-x", "group-" + "9" * 30])
def test_an_address_of_elsewhere_is_no_way_back(bench: Bench, api: Api, undo: str) -> None:
    """What a link puts into the address makes no button but those that are known."""
    api.job()
    page = bench.get(f"/jobs/JOB-0001?said=spoiled&undo={undo}")
    assert not [each for each in page.forms if each.has_button("Undo")]


def test_closing_says_what_is_unfinished_and_takes_a_reason(bench: Bench, api: Api) -> None:
    """An unfinished job is not closed by a tap: it lists what is left, and asks why."""
    job = api.job()
    page = job_page(bench, job)
    assert "step 1 (" in page.text
    refused = bench.send(page, f"/jobs/{job}/close")
    assert (refused.status, api.get(f"/v1/jobs/{job}").body["state"]) == (409, "open")
    closed = bench.send(refused, f"/jobs/{job}/close", anyway="goes back unopened")
    assert "Closed though not finished: goes back unopened" in closed.text


def test_a_refused_piece_is_taken_only_with_a_reason(bench: Bench, api: Api) -> None:
    """Below what was looked at and not taken stands a form that asks why it is taken after all."""
    lot = api.stock(1, measured={"outside_diameter": "9.5 mm"})["id"]
    job = api.job()
    page = job_page(bench, job)
    taken = bench.send(
        page, f"/jobs/{job}/reserve", "Reserve it all the same", override="turned down first"
    )
    assert "because: turned down first" in taken.text
    assert api.get(f"/v1/lots/{lot}").body["promised"] == 1
