"""Answers to read, of calculators that nobody here has met."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from sparewell.cli.answers import answer_lines, fit_lines

BODY: dict[str, Any] = {
    "result": {
        "coil_count": 7,
        "rate": Decimal("0.30"),
        "is_wound_left": False,
        "set": None,
        "range": {"low": Decimal("1.5"), "high": None, "why": "by the wire"},
        "others": [{"coils": 8, "why": "softer"}, {"coils": 6, "why": ""}],
        "empty": [],
        "working": ["one", "two"],
    },
    "warnings": ["mind the ends"],
    "cautions": [],
    "candidates": [],
    "refused": [{"lot": 3, "part": "S-1", "place": "B2", "why": "too long", "job": "JOB-0007"}],
    "to_buy": [{"ask_for": "a spring", "check_on_arrival": "its wire"}],
}


def test_an_unknown_answer_is_shown_under_its_own_names() -> None:
    """Numbers stay as they were sent, groups take a line, lists are listed, empty ones left out."""
    assert answer_lines(BODY, working=False) == [
        "coil count     7",
        "rate           0.30",
        "is wound left  no",
        "set            not known",
        "range          low 1.5, high not known: by the wire",
        "",
        "Others:",
        "  - coils 8: softer",
        "  - coils 6",
        "(lengths in millimetres)",
        "",
        "Warnings:",
        "  - mind the ends",
    ]


def test_the_headlines_come_first_whatever_the_order() -> None:
    """A member that people look for first is printed first; a fit prints no more without asking."""
    body = {**BODY, "result": {**BODY["result"], "size": 15}}
    assert answer_lines(body, working=False)[0].split() == ["size", "15"]
    assert fit_lines(body, working=False)[:2] == ["size  15", ""]
    assert "Working:" in fit_lines(body, working=True)


def test_a_fit_tells_what_was_refused_and_what_to_buy() -> None:
    """Refused pieces come with their place, reason and job, and the purchase with its check."""
    lines = fit_lines(BODY, working=False)
    assert "Nothing in hand fits." in lines
    assert "  lot 3  in B2  S-1  too long (JOB-0007)" in lines
    assert "  - a spring; on arrival: its wire" in lines
