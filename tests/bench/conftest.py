"""Fixtures of the bench page: a browser that is signed in."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from flask import Flask

from support.bench import Bench


@pytest.fixture
def bench(app: Flask, token_of: Callable[[str], str]) -> Bench:
    """A browser of somebody who may write, on the very database of `api`."""
    return Bench(app, token_of("write"), "Odra")
