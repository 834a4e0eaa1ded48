"""The interval of a share against the published examples, and against a general-purpose library."""

from __future__ import annotations

import os

import pytest

from sparewell.learned.wilson import wilson

# Newcombe 1998 (Statistics in Medicine 17, 857-872), table I, method 3: from memory, and the same
# in the tests of a public program that cites the table.
NEWCOMBE = {
    (81, 263): (0.2553, 0.3662),
    (15, 148): (0.0624, 0.1605),
    (0, 20): (0.0, 0.1611),
    (1, 29): (0.0061, 0.1718),
}


@pytest.mark.parametrize(("counts", "interval"), NEWCOMBE.items())
def test_the_published_examples(counts: tuple[int, int], interval: tuple[float, float]) -> None:
    """Each of the four examples of the comparison comes out to its four decimals."""
    found = wilson(*counts)
    assert (round(found.low, 4), round(found.high, 4)) == interval
    assert found.observed == counts[0] / counts[1]


def test_it_is_the_librarys_interval() -> None:
    """Of all counts up to 60 it is the interval of an independent library, to twelve decimals."""
    try:
        from scipy.stats import binomtest
    except ImportError:
        assert os.environ.get("CI") != "true", "CI has no scipy"
        pytest.skip("no scipy here; .ci/oracles.txt pins it")
    for known in range(1, 61):
        for failed in range(known + 1):
            theirs = binomtest(failed, known).proportion_ci(method="wilson")
            ours = wilson(failed, known)
            assert ours.low == pytest.approx(theirs.low, abs=1e-12)
            assert ours.high == pytest.approx(theirs.high, abs=1e-12)


def test_the_ends_stay_between_none_and_all() -> None:
    """With no failure the low end is nothing and with nothing else the high end is all, exactly."""
    for known in (1, 7, 30, 1000):
        assert wilson(0, known).low == 0.0
        assert wilson(known, known).high == 1.0
        assert 0 < wilson(0, known).high < 1
        assert 0 < wilson(known, known).low < 1
