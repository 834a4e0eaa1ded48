"""The oracles have teeth: each known mistake is caught by the runs that the service passes."""

from __future__ import annotations

from pathlib import Path

import pytest

from support.runs import Place, run_kills, run_race

# That the oracles have teeth needs one database; the other is for the night.
_POSTGRESQL = pytest.param("postgresql", marks=[pytest.mark.postgres, pytest.mark.long])
pytestmark = [
    pytest.mark.rest,
    pytest.mark.parametrize("database_url", ["sqlite", _POSTGRESQL], indirect=True),
]

SEED = 20261125
OPERATIONS = 320
CLIENTS = 4
# What is seldom asked for is seldom asked for twice.
LONGER = {
    "undo_twice": 5,
    "release_twice": 3,
    "moves_one_promise_and_not_the_other": 5,
    "takes_a_pinned_one": 4,
}
KILLS = 2


def test_the_service_itself_passes_on_this_scale(database_url: str, tmp_path: Path) -> None:
    """Without a mistake no oracle objects to the very race that the mistakes lose."""
    run_race(Place(database_url, tmp_path), SEED, OPERATIONS, clients=CLIENTS)


@pytest.mark.parametrize(
    ("bug", "oracles"),
    [
        ("drop_row_condition", ("answers_are_definite",)),
        ("drop_condition_and_check", ("never_more_promised_than_in_hand",)),
        ("look_then_write", ("balances_follow_the_ledger", "audits_agree")),
        ("release_twice", ("audits_agree",)),
        ("undo_twice", ("balances_follow_the_ledger", "audits_agree")),
        ("forget_keys", ("keys_answer_alike",)),
        ("answer_before_commit", ("ledger_is_what_was_told",)),
        (
            "moves_one_promise_and_not_the_other",
            ("what_moved_was_replaced", "audits_agree"),
        ),
        ("takes_a_pinned_one", ("what_is_pinned_stays",)),
    ],
)
def test_the_race_catches(
    database_url: str, tmp_path: Path, bug: str, oracles: tuple[str, ...]
) -> None:
    """With a mistake patched in the race fails, and the oracles meant to tell are among those."""
    place = Place(database_url, tmp_path, bug=bug)
    with pytest.raises(AssertionError) as caught:
        run_race(place, SEED, OPERATIONS * LONGER.get(bug, 1), clients=CLIENTS)
    told = str(caught.value)
    assert all(f"{oracle} (" in told for oracle in oracles), told


def test_the_kills_catch_a_server_that_forgets_its_keys(database_url: str, tmp_path: Path) -> None:
    """What a client asks for again after a kill is done twice, and the ledger shows it."""
    with pytest.raises(AssertionError, match="ledger_is_what_was_told"):
        run_kills(Place(database_url, tmp_path, bug="forget_keys"), SEED, KILLS)
