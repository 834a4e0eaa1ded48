"""Whether an answer may be given to a request, and whether a refusal says what stood in the way."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

from support.history import GRANTED, UNAVAILABLE, VERBS, Event, History

PROBLEM_TYPE = "application/problem+json"
MAY_BE = {
    "look": {200},
    "open": {201},
    "arrive": {201},
    "reserve": {201, 404, 409},
    "reserve_best": {201, 404, 409},
    "tonight": {201, 404, 409},
    "pin": {200, 404, 409},
    **{name: {200, 404, 409} for name in (*VERBS, "close", "cancel")},
    **{name: {200, 409, 422} for name in ("count", "discard", "move", "drawer_count")},
    "cut": {201, 409, 422},
    "put_back": {201, 409},
    "undo": {200, 404, 409},
    "keep": {201},
    "strip": {200, 409},
}
Rule = Callable[[Event, str, list[dict[str, Any]]], bool]


def answers_are_definite(history: History) -> Iterator[str]:
    """Say which answers were none that the request may have, or explain nothing."""
    for event in history.events:
        if event.status == UNAVAILABLE and history.crashes:
            explained = event.content_type == PROBLEM_TYPE and bool(event.retry_after)
        elif not event.is_definite:
            explained = event.key is not None
        elif event.status not in MAY_BE[event.name]:
            explained = False
        else:
            explained = event.status in GRANTED or _explains(event)
        if not explained:
            yield f"{event.name} {event.path} {dict(event.body)}: {event.status} {event.text[:400]}"


def _explains(event: Event) -> bool:
    """Whether the content of a refusal is about what was asked."""
    document = event.shown
    if event.content_type != PROBLEM_TYPE or document["status"] != event.status:
        return False
    detail, errors = document["detail"], document.get("errors", [])
    if event.status == 404:
        named = event.body.get("jobs", [event.target])
        return detail.startswith("there is no ") and any(each in detail for each in named)
    if event.status == 422:
        return bool(errors) and all(_is_stranger(event, error) for error in errors)
    return any(rule(event, detail, errors) for rule in RULES[event.name])


def _is_stranger(event: Event, error: dict[str, Any]) -> bool:
    """A hold named to be given up is none of the lot's; what has no length is not cut."""
    if event.name == "cut" and error["pointer"] == "/length":
        return "has no length" in error["detail"]
    where = re.fullmatch(r"/release/(\d+)", error["pointer"])
    return where is not None and str(event.body["release"][int(where[1])]) in error["detail"]


def _too_many(event: Event, detail: str, errors: list[dict[str, Any]]) -> bool:
    """More was asked for than there is, and the answer says how many there are."""
    first, tried = errors[:1], errors[1:]
    if [error["pointer"] for error in first] != ["/quantity"] or not _are_promises(tried):
        return False
    most = re.fullmatch(r"at most (\d+)", errors[0]["detail"])
    asked = event.body.get("quantity", 1)
    return most is not None and int(most[1]) < asked and str(most[1]) in detail


def _are_promises(errors: list[dict[str, Any]]) -> bool:
    """Whether each names a promise that did not move aside, and why; the last may say no more."""
    *_, last = ["", *(error["detail"] for error in errors)]
    named = errors[:-1] if last == "further promises were not looked at" else errors
    says = r"reservation (\d+) holds [1-9]\d* of bag \d+ for JOB-\d+: \w"
    said = [(re.match(says, error["detail"]), error.get("reservation")) for error in named]
    return all(found is not None and found[1] == str(number) for found, number in said)


def _has_ended(event: Event, detail: str, errors: list[dict[str, Any]]) -> bool:
    """It names the end; and what took its place, where something did."""
    ends = r"(used|released|spoiled|lapsed|settled)"
    said = re.match(rf"reservation {event.target} has ended: it was {ends};", detail)
    if said is None or said[1] != "settled":
        return said is not None
    return [f"reservation {error['reservation']}" in detail for error in errors] == [True]


def _job_has_ended(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    return re.match(rf"{event.target} is (closed|cancelled); ", detail) is not None


def _some_job_has_ended(_event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    """Ruin is undone in the job that it was noted in, as long as that is open."""
    return re.match(r"JOB-\d+ is (closed|cancelled); ", detail) is not None


def _is_short(event: Event, detail: str, errors: list[dict[str, Any]]) -> bool:
    """Each need that is short is named, and by how many pieces."""
    named = [error for error in errors if error.get("need") and error.get("short", 0) > 0]
    tried = [error for error in errors if error not in named]
    return detail.startswith(f"{event.target} is short") and bool(named) and _are_promises(tried)


def _nothing_is_open(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    return detail.startswith(f"{event.target} has no open need")


def _was_outrun(_event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    return detail == "others were faster each time; look at the plan again"


def _is_no_evening(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    """Not all of the named jobs can be finished, or nothing of them is left to promise."""
    one_of = "|".join(event.body["jobs"])
    says = rf"(nothing was promised: ({one_of}) waits for \w+: \w|all that ({one_of})[, ])"
    ended = rf"({one_of})(, ({one_of}))* is not open$"
    return re.match(says, detail) is not None or re.match(ended, detail) is not None


def _still_holds(event: Event, detail: str, errors: list[dict[str, Any]]) -> bool:
    named = [error for error in errors if error.get("reservation")]
    return detail.startswith(f"{event.target} still has") and bool(errors) and named == errors


def _is_promised(event: Event, detail: str, errors: list[dict[str, Any]]) -> bool:
    """Too little would be left, and the holds named make up just what is promised."""
    said = re.match(rf"that would leave (-?\d+) of bag {event.target}, and (\d+) are", detail)
    held = [re.search(r"holds (\d+) for", error["detail"]) for error in errors]
    pieces = sum(int(found[1]) for found in held if found)
    return said is not None and int(said[1]) < int(said[2]) == pieces


def _lies_there(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    return detail == f"bag {event.target} lies in {event.body['drawer']} already"


def _is_empty(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    """Nothing is left to be moved as a whole."""
    return "quantity" not in event.body and detail == "only 0 in hand: 0 cannot be moved"


def _is_not_there(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    return detail.startswith(f"not all of these are in {event.target} any more")


def _lies_elsewhere(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    return detail.startswith(f"not all of these lie in {event.target}, so nothing was counted")


def _too_few_counted(_event: Event, detail: str, errors: list[dict[str, Any]]) -> bool:
    """Each hold that stands in the way is named."""
    named = [error for error in errors if error.get("reservation")]
    return detail.startswith("less than is promised to JOB-") and bool(errors) and named == errors


def _came_back_before(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    """No more is put back than was used and did not come back yet."""
    said = re.match(
        rf"(\d+) cannot be put back: (\d+) of reservation {event.body['reservation']} were used, "
        r"and (\d+) of them were put back",
        detail,
    )
    return said is not None and int(said[1]) > int(said[2]) - int(said[3])


def _stands(event: Event, detail: str, _errors: list[dict[str, Any]]) -> bool:
    """What was done stays done, and the refusal says what is in the way of undoing it."""
    group = f"group {event.target}"
    free = re.match(r"(\d+) of bag \d+ would have to go, and (-?\d+) of it are free", detail)
    if free is not None:
        return int(free[1]) > int(free[2])
    ways = (
        rf"{group} was undone already, by group \d+",
        rf"{group} (belongs to a promise to|cannot be undone:|put bag \d+ into) ",
        rf"bag \d+, which {group} made, was ",
        rf"the cost of bag \d+ was changed since {group}",
        r"bag \d+ stands on a donor's checklist",
        r"reservation \d+ and what is fixed in its piece were ruined together: ",
    )
    return any(re.match(way, detail) for way in ways)


RULES: dict[str, tuple[Rule, ...]] = {
    "reserve": (_too_many, _job_has_ended, _was_outrun),
    "pin": (_has_ended,),
    "tonight": (_is_no_evening, _was_outrun),
    "reserve_best": (_is_short, _nothing_is_open, _job_has_ended, _was_outrun),
    **dict.fromkeys(VERBS, (_too_many, _has_ended)),
    "close": (_job_has_ended, _still_holds),
    "cancel": (_job_has_ended,),
    "count": (_is_promised,),
    "discard": (_is_promised, _too_many),
    "move": (_is_promised, _too_many, _lies_there, _is_empty),
    "cut": (_is_promised, _too_many),
    "put_back": (_came_back_before,),
    "undo": (_stands, _some_job_has_ended),
    "strip": (_is_not_there,),
    "drawer_count": (_lies_elsewhere, _too_few_counted),
}
