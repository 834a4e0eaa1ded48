"""Which SQLite versions have the WAL-reset bug, by the notices of the SQLite project."""

from __future__ import annotations

import pytest

from sparewell.database.sqlite_version import known_bug


@pytest.mark.parametrize(
    ("version", "has_bug"),
    [
        ((3, 6, 23), False),
        ((3, 7, 0), True),
        ((3, 40, 1), True),
        ((3, 44, 5), True),
        ((3, 44, 6), False),
        ((3, 45, 0), True),
        ((3, 50, 6), True),
        ((3, 50, 7), False),
        ((3, 51, 2), True),
        ((3, 51, 3), False),
        ((3, 53, 0), False),
    ],
)
def test_the_versions_with_the_bug_are_named(
    version: tuple[int, int, int], *, has_bug: bool
) -> None:
    """The bug lived from 3.7.0 to 3.51.2, and was mended in two older lines as well."""
    said = known_bug(version)
    assert (said is not None) == has_bug
    if said:
        assert ".".join(map(str, version)) in said
        assert "3.51.3" in said
