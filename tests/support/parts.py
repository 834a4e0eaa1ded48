"""The two parts of the suite: what is run before each commit, and the rest.

Before a commit every behaviour is tried once, on SQLite; on PostgreSQL what differs there, if its
server is installed. The rest is whatever takes long, a browser or an installation, and everything
else on PostgreSQL.
"""

from __future__ import annotations

import pytest

QUICK, REST, WHOLE = "quick", "rest", "whole"
_LEFT_OUT = "tests_left_out"


class Parts:
    """Chooses the tests of a part, and says at the end what was left out."""

    def __init__(self) -> None:
        self.left_out = 0

    def pytest_collection_modifyitems(
        self, config: pytest.Config, items: list[pytest.Item]
    ) -> None:
        """Keep the tests of the part that was asked for."""
        part = config.getoption("part")
        kept: list[pytest.Item] = []
        dropped: list[pytest.Item] = []
        for each in items:
            is_wanted = part == WHOLE or is_quick(each) == (part == QUICK)
            (kept if is_wanted else dropped).append(each)
        self.left_out = len(dropped)
        if hasattr(config, "workeroutput"):
            config.workeroutput[_LEFT_OUT] = self.left_out
        if dropped:
            config.hook.pytest_deselected(items=dropped)
            items[:] = kept

    @pytest.hookimpl(optionalhook=True)
    def pytest_testnodedown(self, node: object) -> None:
        """Hear from a worker what it left out: the same as the others, for all collect the same."""
        self.left_out = getattr(node, "workeroutput", {}).get(_LEFT_OUT, self.left_out)

    def pytest_terminal_summary(
        self, terminalreporter: pytest.TerminalReporter, config: pytest.Config
    ) -> None:
        """Say in the last lines what was left out, and how to run it."""
        if config.getoption("part") != QUICK or not self.left_out:
            return
        terminalreporter.section("left out")
        terminalreporter.line(
            f"{self.left_out} tests that take long, need a browser or an installation, or try on "
            "PostgreSQL what does not differ there."
        )
        terminalreporter.line(
            "Run them with: pytest --part=rest     Everything: pytest --part=whole"
        )


def is_quick(test: pytest.Item) -> bool:
    """Whether a test is run before each commit."""
    has = test.get_closest_marker
    return not has("rest") and (not has("postgres") or has("differs") is not None)
