"""What holds for every page: a phone's width, a screen reader, print, both looks."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from support.browsing import DESK, PHONE, Workshop, sign_in, visit

pytestmark = pytest.mark.rest

SAC = "/measure/sac?barrel_bore=8.0+mm&bar_height=0.9+mm&nipple_diameter=6.4+mm&barrel_depth=62+mm"
FAULTY = "/measure/sac?barrel_bore=8+cubits&nipple_diameter=6.4"
PAGES = (
    "/measure",
    SAC,
    FAULTY,
    "/measure/o_ring?gland=rod&rod=2.0+mm&bore=3.9+mm&duty=moving",
    "/measure/spring",
    "/jobs",
    "/jobs/{open_job}",
    "/jobs/JOB-0001",
    "/pens",
    "/pens/PEN-0001",
    "/pens/new?filling_system=pneumatic",
    "/drawers",
    "/drawers/A3",
    "/drawers/A3/count",
    "/bags/15",
    "/find?kind=sac&size=6+mm",
    "/receive",
    "/donors",
    "/donors/new",
    "/donors/DON-0001",
    "/pens/PEN-0001/photographs",
    "/to-order",
    "/to-order/SAC-16-STR",
    "/labels",
    "/learned",
    "/settings",
    "/settings/sac.end_gap",
    "/more",
    "/no-such-page",
)
LEAST_THUMB_PIXELS = 40
AXE_PACKAGE = "axe_playwright_python"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]


def open_page(page: Any, workshop: Workshop, path: str) -> None:
    """Open a page; that it is there at all is part of what is looked at."""
    expected = {"/no-such-page": 404, FAULTY: 422}.get(path, 200)
    if "{open_job}" in path:
        path = path.format(open_job=workshop.ask("/v1/jobs?state=open")["jobs"][0]["number"])
    assert page.goto(workshop.address + path).status == expected, path


@pytest.mark.parametrize("look", ["light", "dark"])
def test_no_page_keeps_anybody_out(chromium: Any, workshop: Workshop, look: str) -> None:
    """The accessibility rules of WCAG 2.1 A and AA find nothing, by day and by the lamp."""
    package = find_spec(AXE_PACKAGE)
    if package is None or package.origin is None:
        assert os.environ.get("CI") != "true", "CI has no axe-core"
        pytest.skip("no axe-core here: pip install --no-deps axe-playwright-python")
    rules = Path(package.origin).with_name("axe.min.js").read_text()
    found: dict[str, list[str]] = {}
    with visit(chromium, workshop, color_scheme=look, bypass_csp=True) as page:
        for path in PAGES:
            open_page(page, workshop, path)
            page.evaluate(rules)
            told = page.evaluate("tags => axe.run({runOnly: {type: 'tag', values: tags}})", RULES)
            found[path] = [
                f"{fault['id']}: {node['html'][:120]}"
                for fault in told["violations"]
                for node in fault["nodes"]
            ]
    assert not any(found.values()), {path: faults for path, faults in found.items() if faults}


def test_every_page_fits_a_phone(chromium: Any, workshop: Workshop) -> None:
    """At 360 pixels nothing runs out of the page, and every button is as wide as a thumb."""
    with visit(chromium, workshop) as page:
        for path in PAGES:
            open_page(page, workshop, path)
            width = page.evaluate("document.documentElement.scrollWidth")
            assert width <= PHONE["width"], f"{path} is {width} wide"
            for button in page.locator("button:visible, nav a:visible").all():
                box = button.bounding_box()
                assert box["height"] >= LEAST_THUMB_PIXELS, f"{path}: {button.text_content()}"


def test_what_is_printed_is_the_page_without_its_buttons(chromium: Any, workshop: Workshop) -> None:
    """On paper the list of pages and the forms are gone, and the figures are there."""
    with visit(chromium, workshop, viewport=DESK) as page:
        page.goto(workshop.address + SAC)
        page.emulate_media(media="print")
        assert not page.locator("nav").is_visible()
        assert page.locator("button:visible").count() == 0
        assert page.locator(".headline").is_visible()


def test_moments_are_said_in_the_zone_of_the_browser(chromium: Any, workshop: Workshop) -> None:
    """Far from the server's own zone, "until" is the clock on the wall here."""
    job = workshop.ask("/v1/jobs?state=open")["jobs"][0]["number"]
    until = (datetime.now(UTC) + timedelta(days=2)).replace(hour=3, minute=4, second=0)
    body = {"what": "shellac", "until": until.isoformat(timespec="seconds")}
    workshop.ask(f"/v1/jobs/{job}/timers", body)
    there = until.astimezone(ZoneInfo("Pacific/Auckland")).strftime("%H:%M")
    with visit(chromium, workshop, timezone_id="Pacific/Auckland") as page:
        page.goto(f"{workshop.address}/jobs")
        shown = page.locator(f"time[datetime^='{until:%Y-%m-%dT%H:%M}']").first
        assert there in shown.text_content()


def test_signing_in_goes_on_to_what_a_label_opens(chromium: Any, workshop: Workshop) -> None:
    """A phone that reads a bag's code signs in once and sees the bag."""
    context = chromium.new_context(viewport=PHONE)
    page = context.new_page()
    sign_in(page, workshop, "/bags/15")
    assert page.url.endswith("/bags/15")
    context.close()
