"""Fixtures of the bench page: a browser that is signed in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from flask import Flask

from support.bench import Bench


@pytest.fixture
def bench(app: Flask, token_of: Callable[[str], str]) -> Bench:
    """A browser of somebody who may write, on the very database of `api`."""
    return Bench(app, token_of("write"), "Odra")


# Pages call operations that are tested on both databases; so is what they ask by themselves.
ON_BOTH = frozenset(
    {
        *("test_sign_in.py", "test_who_may.py", "test_photographs.py", "test_forms.py"),
        *("test_find.py", "test_orders.py", "test_labels.py", "test_statements.py"),
    }
)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave pages that only call operations to one database."""
    here = Path(__file__).parent
    left_out = {
        item
        for item in items
        if item.path.parent == here
        and item.path.name not in ON_BOTH
        and item.get_closest_marker("postgres")
    }
    config.hook.pytest_deselected(items=[item for item in items if item in left_out])
    items[:] = [item for item in items if item not in left_out]
