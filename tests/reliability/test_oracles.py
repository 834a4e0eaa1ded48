"""Each oracle objects to the one story it is there for, and to no true one."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from support.history import Event, Final, History
from support.oracles import check

HOLD_SECONDS = 10.0
Story = tuple[list[Event], dict[str, Any]]


def told(second: float, name: str, path: str, shown: Mapping[str, Any], **more: Any) -> Event:
    """Return an event whose answer came a tenth of a second after it was sent."""
    text = json.dumps(shown)
    body = {"note": f"{name}-{second:g}", **more.pop("body", {})}
    event = Event(name, path, body, sent=second, answered=second + 0.1, status=200, text=text)
    return replace(event, **more)


def lot(in_hand: int, promised: int, number: int = 1) -> dict[str, Any]:
    """Return a lot as the service shows it."""
    available = in_hand - promised
    return {"id": number, "in_hand": in_hand, "promised": promised, "available": available}


def reservation(number: int = 1, quantity: int = 2, **counts: int) -> dict[str, Any]:
    """Return a reservation as the service shows it."""
    ends = dict.fromkeys(("used", "released", "spoiled", "lapsed", "settled"), 0)
    counts = {"in_tray": 0} | ends | counts
    promised = quantity - sum(counts[end] for end in ends)
    of = {"id": number, "lot": 1, "job": "JOB-0001", "need": None, "quantity": quantity}
    moves = {"pinned": False, "moved_to": None, "moved_for": None, "person": None}
    return {**of, **counts, "promised": promised, "expires_at": "later", **moves}


def line(number: int, note: str, verb: str, change: int, **more: Any) -> dict[str, Any]:
    """Return a line of the ledger."""
    of = {"id": number, "group": number, "lot": 1, "reservation": None, "job": None, "note": note}
    return {**of, "verb": verb, "change": change, "pieces": abs(change), **more}


def true_story() -> Story:
    """Three pieces arrive; two are reserved, one is used, and the other is released."""
    ended = reservation(used=1, released=1)
    body = {"quantity": 1}
    events = [
        told(0, "arrive", "/v1/lots", lot(3, 0), body={"quantity": 3}, status=201),
        told(1, "open", "/v1/jobs", {"number": "JOB-0001"}, status=201),
        told(
            *(2, "reserve", "/v1/jobs/JOB-0001/reservations", {"reservations": [reservation()]}),
            body={"lot": 1, "quantity": 2},
            status=201,
            key="k",
        ),
        told(3, "use", "/v1/reservations/1/use", reservation(used=1), body=body),
        told(4, "release", "/v1/reservations/1/release", ended, body=body),
        told(5, "close", "/v1/jobs/JOB-0001/close", {"number": "JOB-0001"}),
    ]
    final = {
        "lots": {1: lot(2, 0)},
        "reservations": {1: ended | {"note": "reserve-2"}},
        "jobs": {"JOB-0001": {"state": "closed"}},
        "movements": [
            line(1, "arrive-0", "arrived", 3),
            line(2, "use-3", "fitted", -1, reservation=1, job="JOB-0001"),
        ],
    }
    return events, final


def judge(story: Story) -> None:
    """Let every oracle look at a story."""
    events, final = story
    check(History(events, HOLD_SECONDS), Final(**final))


def lose_a_line(story: Story) -> None:
    """Acknowledge what is not in the ledger."""
    del story[1]["movements"][1]


def write_a_line_twice(story: Story) -> None:
    """Do a thing twice that was asked for once."""
    story[1]["movements"].append(story[1]["movements"][1] | {"id": 3})


def do_what_nobody_was_told_of(story: Story) -> None:
    """Keep a promise that no client knows."""
    story[1]["reservations"][2] = reservation(2, quantity=1, used=1) | {"note": "a ghost"}


def answer_a_key_twice(story: Story) -> None:
    """Give another answer under a key."""
    again = replace(story[0][2], text='{"reservations": []}', sent=6.0, answered=6.1)
    story[0].append(replace(again, replayed=True))


def answer_vaguely(story: Story) -> None:
    """Refuse without a reason that has to do with the request."""
    vague = {"status": 409, "detail": "somebody else did the same at this moment"}
    path = "/v1/reservations/1/use"
    refused = told(6, "use", path, vague, status=409, content_type="application/problem+json")
    story[0].append(refused)


def show_too_many_promised(story: Story) -> None:
    """Show more promised than in hand, for a moment only."""
    story[0].append(told(6, "look", "/v1/lots/1", lot(1, 2), method="GET"))


def show_another_balance(story: Story) -> None:
    """Show a count that is not what the ledger says at that line."""
    body = {"counted": 2}
    story[0].append(told(6, "count", "/v1/lots/1/count", lot(3, 0), body=body))
    story[1]["movements"].append(line(3, "count-6", "counted", 0))


def end_a_piece_twice(story: Story) -> None:
    """Grant a release after the last piece has ended."""
    after = reservation(used=1, released=1)
    body = {"quantity": 1}
    story[0].append(told(4.5, "release", "/v1/reservations/1/release", after, body=body))


def lapse_from_the_tray(story: Story) -> None:
    """Let a piece lapse that had been fetched."""
    fetched = reservation(used=1, in_tray=1)
    path = "/v1/reservations/1/fetch"
    story[0][4] = told(4, "fetch", path, fetched, body={"quantity": 1})
    moved = line(3, "fetch-4", "moved", 0, pieces=1, reservation=1, job="JOB-0001")
    story[1]["movements"].append(moved)
    story[1]["reservations"][1] = reservation(used=1, lapsed=1) | {"note": "reserve-2"}


def promise_pieces_twice(story: Story) -> None:
    """Promise two of three pieces to a second client while the first still has its two."""
    other = reservation(2, released=2)
    granted = {"reservations": [reservation(2)]}
    path, body = "/v1/jobs/JOB-0001/reservations", {"lot": 1, "quantity": 2}
    story[0].append(told(2.2, "reserve", path, granted, body=body, status=201))
    back = "/v1/reservations/2/release"
    story[0].append(told(2.8, "release", back, other, body={"quantity": 2}))
    story[1]["reservations"][2] = other | {"note": "reserve-2.2"}


def reserve_after_the_end(story: Story) -> None:
    """Promise a piece to a job that is closed."""
    story[0][5] = replace(story[0][5], sent=1.5, answered=1.6)


def undo_another_line(story: Story) -> None:
    """Undo the arrival of three pieces by taking two."""
    taken = line(3, "undo-6", "undone", -2)
    shown = {"group": 3, "movements": [taken]}
    story[0].append(told(6, "undo", "/v1/movements/1/undo", shown))
    story[1]["movements"].append(taken)
    story[1]["lots"][1] = lot(0, 0)


def reserve_unasked(story: Story) -> None:
    """Answer a spoil with a promise that nobody asked for."""
    other = reservation(2, quantity=1)
    spoiled = reservation(used=1, spoiled=1) | {"next": {"reserved": [other]}}
    body = {"quantity": 1}
    story[0][4] = told(4, "spoil", "/v1/reservations/1/spoil", spoiled, body=body)
    story[1]["reservations"][2] = other | {"note": "spoil-4"}


def leave_a_need_met(story: Story) -> None:
    """Put the used piece back, and show its need as if it were still in the pen."""
    del story[0][5]
    need = {"id": None, "quantity": 1, "promised": 0, "used": 1, "state": "met"}
    story[1]["jobs"]["JOB-0001"] = {"state": "open", "needs": [need]}
    back = line(3, "put_back-6", "put_back", 1, lot=2, reservation=1, job="JOB-0001")
    shown = {"taken_from": lot(2, 0), "made": [lot(1, 0, 2)]}
    body = {"reservation": 1, "quantity": 1}
    story[0].append(told(6, "put_back", "/v1/lots/1/put-back", shown, body=body, status=201))
    story[1]["movements"].append(back)
    story[1]["lots"][2] = lot(1, 0, 2)


@pytest.mark.parametrize(
    ("spoil", "oracle"),
    [
        (lose_a_line, "ledger_is_what_was_told"),
        (write_a_line_twice, "ledger_is_what_was_told"),
        (do_what_nobody_was_told_of, "promises_are_those_told"),
        (answer_a_key_twice, "keys_answer_alike"),
        (answer_vaguely, "answers_are_definite"),
        (show_too_many_promised, "shown_lots_are_possible"),
        (show_another_balance, "balances_follow_the_ledger"),
        (end_a_piece_twice, "pieces_end_once"),
        (lapse_from_the_tray, "pieces_end_once"),
        (promise_pieces_twice, "never_more_promised_than_in_hand"),
        (reserve_after_the_end, "jobs_end_once"),
        (undo_another_line, "undone_is_the_opposite"),
        (reserve_unasked, "spoiled_is_replaced_at_most"),
        (leave_a_need_met, "needs_follow_the_pieces"),
    ],
)
def test_a_false_story_is_noticed(spoil: Callable[[Story], None], oracle: str) -> None:
    """A story that is true but for one thing is objected to by the oracle for that thing."""
    story = true_story()
    judge(story)
    spoil(story)
    with pytest.raises(AssertionError) as caught:
        judge(story)
    assert f"{oracle} (" in str(caught.value), str(caught.value)


def moving_story() -> Story:
    """Two jobs, a bag of one piece each; the promise of the first moves for the second."""
    first, second, path = "JOB-0001", "JOB-0002", "/v1/jobs/{}/reservations"
    before = reservation(quantity=1)
    made = reservation(2, quantity=1) | {"job": second}
    moved = {"reservation": 1, "job": first, "lot": 1, "moved_to": 3, "to_lot": 2}
    granted = {"reservations": [made], "moved": [moved | {"moved_for": second}]}
    events = [
        told(0, "arrive", "/v1/lots", lot(1, 0), body={"quantity": 1}, status=201),
        told(0.5, "arrive", "/v1/lots", lot(1, 0, 2), body={"quantity": 1}, status=201),
        told(1, "open", "/v1/jobs", {"number": first}, status=201),
        told(1.5, "open", "/v1/jobs", {"number": second}, status=201),
        told(2, "reserve_best", path.format(first), {"reservations": [before]}, status=201),
        told(3, "reserve_best", path.format(second), granted, status=201),
    ]
    ended = reservation(quantity=1, settled=1) | {"moved_to": 3, "moved_for": second}
    after = reservation(3, quantity=1) | {"lot": 2}
    final = {
        "lots": {1: lot(1, 1), 2: lot(1, 1, 2)},
        "reservations": {
            1: ended | {"note": "reserve_best-2"},
            2: made | {"note": "reserve_best-3"},
            3: after | {"note": "reserve_best-2"},
        },
        "jobs": {first: {"state": "open"}, second: {"state": "open"}},
        "movements": [
            line(1, "arrive-0", "arrived", 1),
            line(2, "arrive-0.5", "arrived", 1, lot=2),
        ],
    }
    return events, final


def replace_nothing(story: Story) -> None:
    """End what moves, and promise its job nothing instead."""
    del story[1]["reservations"][3]
    story[1]["lots"][2] = lot(1, 0, 2)


def settle_without_a_word(story: Story) -> None:
    """Let a promise move, and tell nobody."""
    made = {"reservations": story[0][5].reserved, "moved": []}
    story[0][5] = replace(story[0][5], text=json.dumps(made))


def move_what_was_pinned(story: Story) -> None:
    """Let a promise move that somebody had pinned just before."""
    path, shown = "/v1/reservations/1", reservation(quantity=1) | {"pinned": True}
    pin = told(2.5, "pin", path, shown, method="PATCH")
    story[0].append(replace(pin, body={"pinned": True}))


@pytest.mark.parametrize(
    ("spoil", "oracle"),
    [
        (replace_nothing, "what_moved_was_replaced"),
        (settle_without_a_word, "what_moved_was_replaced"),
        (move_what_was_pinned, "what_is_pinned_stays"),
    ],
)
def test_a_false_story_of_a_promise_that_moves_is_noticed(
    spoil: Callable[[Story], None], oracle: str
) -> None:
    """What moves is replaced, told, and was not pinned; a story without that is objected to."""
    story = moving_story()
    judge(story)
    spoil(story)
    with pytest.raises(AssertionError) as caught:
        judge(story)
    assert f"{oracle} (" in str(caught.value)
