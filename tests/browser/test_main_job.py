"""The main job in a browser: from the caliper to the fitted part, and what can go wrong."""

from __future__ import annotations

from typing import Any

import pytest

from support.browsing import Workshop, visit

pytestmark = pytest.mark.rest

READINGS = {
    "Nipple, outside": "6.4",
    "Barrel bore": "8.0",
    "Height of the bar, in place": "0.9",
    "Barrel depth": "62",
}
MOST_TAPS_TO_A_FITTED_SAC = 6


def type_readings(page: Any, readings: dict[str, str]) -> None:
    """Type readings into the form of a sac."""
    for label, reading in readings.items():
        page.get_by_label(label, exact=True).fill(reading)


def choose_new_pen(page: Any) -> None:
    """Say that it is for a pen not noted yet, what it is called and how it fills."""
    page.get_by_label("For", exact=True).select_option("new")
    pen = page.get_by_label("Called", exact=True)
    if not pen.is_visible():
        page.get_by_text("A pen not noted yet", exact=True).last.click()
    pen.fill("olive lever pen")
    page.get_by_label("How does it fill?").select_option("lever")


def reserve_first(page: Any) -> None:
    """Reserve from the first button that does, for a pen not noted yet."""
    choose_new_pen(page)
    page.get_by_role("button", name="Reserve one from").first.click()
    page.wait_for_url("**/jobs/JOB-*")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_from_reading_to_fitted_part(chromium: Any, workshop: Workshop, script: bool) -> None:  # noqa: FBT001 - pytest hands it over
    """Six taps after the readings the sac is in the pen; with a script the answer needs none."""
    taps = 0
    with visit(chromium, workshop, java_script_enabled=script) as page:
        page.get_by_role("link", name="Sac size").click()
        type_readings(page, READINGS)
        if not script:
            page.get_by_role("button", name="Work it out").click()
            taps += 1
        page.locator(".headline").get_by_text("15½").wait_for()
        assert page.locator(".drawing svg").count() == 1
        reserve_first(page)
        page.get_by_role("button", name="In the tray").click()
        page.get_by_role("button", name="Fitted").click()
        taps += 3
        page.get_by_text("Noted as fitted.").wait_for()
        number = page.url.split("/jobs/")[1].split("?")[0]
    assert taps <= MOST_TAPS_TO_A_FITTED_SAC
    (used,) = workshop.ask(f"/v1/reservations?job={number}")["reservations"]
    assert (used["state"], used["person"]) == ("used", "Odra")


def test_the_drawing_follows_the_typing(chromium: Any, workshop: Workshop) -> None:
    """Another bore redraws the sac to scale and names another size, without a tap."""
    with visit(chromium, workshop) as page:
        page.goto(f"{workshop.address}/measure/sac")
        type_readings(page, READINGS)
        page.locator(".headline").get_by_text("15½").wait_for()
        before = page.locator(".drawing svg desc").text_content()
        page.get_by_label("Barrel bore", exact=True).fill("0.354 in")
        page.locator(".headline").get_by_text("16", exact=True).first.wait_for()
        assert page.locator(".drawing svg desc").text_content() != before
        assert "0.354" in page.url, "the address can be kept and shared"


def test_for_whom_outlives_every_redraw(chromium: Any, workshop: Workshop) -> None:
    """A job that was chosen stays chosen while more is typed, and the piece goes to that job."""
    job = workshop.ask("/v1/jobs?state=open")["jobs"][0]["number"]
    pens = len(workshop.ask("/v1/pens?limit=500")["pens"])
    with visit(chromium, workshop) as page:
        page.goto(f"{workshop.address}/measure/sac")
        type_readings(page, READINGS)
        page.locator(".headline").get_by_text("15½").wait_for()
        page.get_by_label("For", exact=True).select_option(job)
        page.get_by_label("Barrel bore", exact=True).fill("8.8")
        page.locator(".headline").get_by_text("16", exact=False).first.wait_for()
        assert page.get_by_label("For", exact=True).input_value() == job
        page.get_by_role("button", name="Reserve one from").first.click()
        page.wait_for_url(f"**/jobs/{job}?*")
    assert len(workshop.ask("/v1/pens?limit=500")["pens"]) == pens


def test_an_old_answer_does_not_look_current(chromium: Any, workshop: Workshop) -> None:
    """Without a connection the old figures are gone and words say why; with one they are back."""
    with visit(chromium, workshop) as page:
        page.goto(f"{workshop.address}/measure/sac")
        type_readings(page, READINGS)
        page.locator(".headline").get_by_text("15½").wait_for()
        page.context.set_offline(True)
        page.get_by_label("Barrel bore", exact=True).fill("9.9")
        page.get_by_text("No connection").wait_for()
        assert not page.locator(".headline").is_visible()
        page.context.set_offline(False)
        page.locator(".headline").wait_for(state="visible")
        assert page.get_by_text("No connection").count() == 0


def test_a_refused_reading_is_told_where_it_was_typed(chromium: Any, workshop: Workshop) -> None:
    """The field is marked, says why, and keeps what was typed."""
    with visit(chromium, workshop) as page:
        page.goto(f"{workshop.address}/measure/sac")
        type_readings(page, READINGS | {"Barrel bore": "8 cubits"})
        page.get_by_role("button", name="Work it out").click()
        field = page.get_by_label("Barrel bore", exact=True)
        assert field.input_value() == "8 cubits"
        assert field.get_attribute("aria-invalid") == "true"
        told = page.locator(f"#{field.get_attribute('aria-describedby').split()[0]}")
        assert "mm" in told.text_content()


def test_a_lost_race_shows_what_there_is_now(chromium: Any, workshop: Workshop) -> None:
    """Two people see the last piece; the second reads who has it and keeps the readings."""
    with visit(chromium, workshop) as page:
        page.goto(f"{workshop.address}/measure/sac")
        type_readings(page, READINGS)
        button = page.get_by_role("button", name="Reserve one from").first
        button.wait_for()
        with page.expect_response("**/measure/sac?*job=new*"):
            choose_new_pen(page)
        page.wait_for_url("**job=new*")
        lot = int(button.get_attribute("value"))
        job = workshop.ask("/v1/jobs?state=open")["jobs"][0]["number"]
        free = workshop.ask(f"/v1/lots/{lot}")["available"]
        taken = {"lot": lot, "quantity": free, "override": "to be quicker"}
        workshop.ask(f"/v1/jobs/{job}/reservations", taken)
        button.click()
        alert = page.get_by_role("alert").first
        alert.wait_for()
        assert job in alert.text_content()
        assert page.get_by_label("Barrel bore", exact=True).input_value() == "8.0"
        assert page.locator(f"button[name=lot][value='{lot}']").count() == 0
        reserve_first(page)


def test_a_session_over_in_mid_form_loses_nothing(chromium: Any, workshop: Workshop) -> None:
    """The sign-in page keeps the form; signed in again, what was typed is sent with one tap."""
    with visit(chromium, workshop) as page:
        page.goto(f"{workshop.address}/pens/new?filling_system=lever")
        page.get_by_label("Called").fill("pen under the lamp")
        page.get_by_label("Barrel bore", exact=True).fill("8,0 mm")
        page.context.clear_cookies()
        page.get_by_role("button", name="Open the job").click()
        page.get_by_label("Token").fill(workshop.token)
        page.get_by_role("button", name="Sign in").click()
        assert "pen under the lamp" in page.locator("main").text_content()
        page.get_by_role("button", name="Send it").click()
        page.wait_for_url("**/jobs/JOB-*")
        assert page.get_by_role("heading", level=1).text_content() == "pen under the lamp"
    newest = workshop.ask("/v1/pens?limit=500")["pens"][-1]
    assert newest["readings"]["barrel_bore"]["entered"] == "8,0 mm"


def tab_to(page: Any, name: str) -> None:
    """Press Tab until a field of this name has the focus."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == name:
            return
    pytest.fail(f"Tab never comes to {name}")


def test_the_main_job_by_keyboard_alone(chromium: Any, workshop: Workshop) -> None:
    """Tab, typing and Enter are enough, and the first stop leads past the list of pages."""
    with visit(chromium, workshop) as page:
        page.goto(f"{workshop.address}/measure/sac")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "To the page"
        page.keyboard.press("Enter")
        for reading in READINGS.values():
            page.keyboard.press("Tab")
            page.keyboard.type(reading)
        page.locator(".headline").get_by_text("15½").wait_for()
        tab_to(page, "job")
        page.keyboard.type("a pen not")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        tab_to(page, "called")
        page.keyboard.type("olive lever pen")
        tab_to(page, "filling_system")
        page.keyboard.type("lever")
        tab_to(page, "lot")
        page.keyboard.press("Enter")
        page.wait_for_url("**/jobs/JOB-*")
