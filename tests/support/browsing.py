"""Visits to the bench page in a real browser, at the size of a phone."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}


@dataclass(frozen=True)
class Workshop:
    """A server that runs, and a token for it."""

    address: str
    token: str

    def ask(self, path: str, body: dict[str, Any] | None = None) -> Any:
        """Ask its API what a page should have brought about, or bring something about."""
        data = None if body is None else json.dumps(body).encode()
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        asked = urllib.request.Request(self.address + path, data, headers)  # noqa: S310 - our own
        with urllib.request.urlopen(asked, timeout=20) as answer:  # noqa: S310 - our own
            return json.load(answer)


@contextmanager
def visit(browser: Any, workshop: Workshop, **options: Any) -> Iterator[Any]:
    """Give a page that is signed in. Whatever it says to the console, or fetches elsewhere, fails.

    What the server refuses is told in the console too; that is no fault of the page.
    """
    faults: list[str] = []
    context = browser.new_context(**{"viewport": PHONE} | options)
    page = context.new_page()
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda told: faults.append(told.text) if _is_fault(told) else None)
    page.on(
        "request",
        lambda asked: (
            faults.append(f"it fetches {asked.url}")
            if not asked.url.startswith((workshop.address, "data:", "blob:"))
            else None
        ),
    )
    sign_in(page, workshop)
    yield page
    context.close()
    assert not faults, faults


def _is_fault(told: Any) -> bool:
    return told.type in {"error", "warning"} and "Failed to load resource" not in told.text


def sign_in(page: Any, workshop: Workshop, path: str = "/measure") -> None:
    """Sign in as a person would."""
    page.goto(f"{workshop.address}{path}")
    page.get_by_label("Token").fill(workshop.token)
    page.get_by_label("Your name").fill("Odra")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "/sign-in" not in url)
