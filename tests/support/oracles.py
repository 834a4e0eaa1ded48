"""What must hold of every history, however it came about. Each oracle yields its objections.

The oracles know the contract and no line of the service. They look at what clients were told
(:class:`History`) and at what the service says in the end (:class:`Final`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any

from support.history import VERBS, Event, Final, History
from support.moved import what_is_pinned_stays, what_moved_was_replaced
from support.refusals import answers_are_definite

ENDS = ("used", "released", "spoiled", "lapsed", "settled")
COUNTED_AS = {"use": "used", "spoil": "spoiled", "release": "released"}
LEDGER_VERB = {"use": "fitted", "spoil": "spoiled"}
GIVEN_UP = "released for something done to its bag"
MOST_SHOWN = 3

Row = Mapping[str, Any]
Oracle = Callable[[History, Final], Iterator[str]]


def check(history: History, final: Final, **other: Sequence[str]) -> None:
    """Assert that no oracle objects; whoever does is named, with the first objections."""
    found = {"answers_are_definite": list(answers_are_definite(history))}
    found |= {oracle.__name__: list(oracle(history, final)) for oracle in ORACLES}
    found |= {name: list(faults) for name, faults in other.items()}
    objecting = {name: faults for name, faults in found.items() if faults}
    assert not objecting, "\n".join(
        f"{name} ({len(faults)}): " + "\n  ".join(faults[:MOST_SHOWN])
        for name, faults in objecting.items()
    )


def keys_answer_alike(history: History, _final: Final) -> Iterator[str]:
    """Every answer under a key is the same, and one of them at most is the first."""
    for key, told in history.by_key.items():
        if len({(event.status, event.text) for event in told}) > 1:
            yield f"{key}: {[(event.status, event.text[:200]) for event in told]}"
        first = [event for event in told if not event.replayed]
        if len(first) > 1 or (not first and not history.crashes):
            yield f"{key}: {len(first)} of {len(told)} answers were not replayed"


def ledger_is_what_was_told(history: History, final: Final) -> Iterator[str]:
    """Each effect that a client was told of is in the ledger once, and nothing else is."""
    lines = dict(final.lines)
    for effect in history.effects:
        written = lines.pop(effect.note_in_ledger, [])
        if not _is_written(effect, written):
            yield f"{effect.name} {effect.path} {dict(effect.body)} was granted: {written}"
    named = {hold for effect in history.effects for hold in effect.body.get("release", [])}
    for line in lines.pop(GIVEN_UP, []):
        if line["reservation"] not in named or line["change"]:
            yield f"nobody was told that this hold was given up: {line}"
    for unknown in lines.values():
        yield f"nobody was told of {unknown}"


def _is_written(effect: Event, written: Sequence[Row]) -> bool:
    """Whether these lines are what an effect should have left in the ledger."""
    if effect.name == "cancel":
        return all(line["change"] == 0 and line["job"] == effect.target for line in written)
    found = [
        (line["verb"], line["change"], line["lot"], line["reservation"], line["pieces"])
        for line in written
    ]
    first = written[0] if written else {"change": 0, "pieces": 0}
    return found in _allowed(effect, effect.body.get("quantity") or first["pieces"], first)


def _allowed(effect: Event, pieces: int, first: Row) -> list[list[Any]]:
    """Return what may stand in the ledger; amounts that a request leaves open are taken from it."""
    shown, change = effect.shown, first["change"]
    match effect.name:
        case "arrive":
            allowed = [[("arrived", pieces, shown["id"], None, pieces)]]
        case "count":
            allowed = [[("counted", change, int(effect.target), None, abs(change))]]
        case "discard":
            allowed = [[("discarded", -pieces, int(effect.target), None, pieces)]]
        case "move" if shown["id"] == int(effect.target):
            # What still lies in a donor is stripped by moving it.
            verbs = ("moved", "stripped")
            allowed = [[(verb, 0, shown["id"], None, shown["in_hand"])] for verb in verbs]
        case "move":
            there = ("moved", pieces, shown["id"], None, pieces)
            allowed = [[("moved", -pieces, int(effect.target), None, pieces), there]]
        case "use" | "spoil":
            verb = LEDGER_VERB[effect.name]
            allowed = [[(verb, -pieces, shown["lot"], shown["id"], pieces)]]
        case "fetch":
            allowed = [[("moved", 0, shown["lot"], shown["id"], pieces)]]
            allowed += [] if "quantity" in effect.body else [[]]
        case "release":
            # Only what comes back from the tray moves.
            allowed = [[], [("moved", 0, shown["lot"], shown["id"], first["pieces"])]]
        case _:
            allowed = [_of_an_act(effect, pieces)]
    return allowed


def _of_an_act(effect: Event, pieces: int) -> list[Any]:
    """Return what an act of several lines should have left in the ledger."""
    shown, lines = effect.shown, []
    match effect.name:
        case "cut":
            lines = [("cut", -pieces, int(effect.target), None, pieces)]
            lines += [("cut", pieces, lot["id"], None, pieces) for lot in shown["made"]]
        case "put_back":
            of = effect.body["reservation"]
            lines = [("put_back", pieces, lot["id"], of, pieces) for lot in shown["made"]]
        case "keep":
            lines = [("arrived", 1, each["lot"], None, 1) for each in shown["components"]]
        case "strip":
            lines = [("stripped", 0, lot["id"], None, lot["in_hand"]) for lot in shown["lots"]]
        case "drawer_count":
            lines = [
                ("counted", each["difference"], each["lot"], None, abs(each["difference"]))
                for each in shown["counted"]
            ]
        case "undo":
            lines = [
                ("undone", line["change"], line["lot"], line["reservation"], line["pieces"])
                for line in shown["movements"]
            ]
    return lines


def undone_is_the_opposite(history: History, final: Final) -> Iterator[str]:
    """What undoes a group takes back just its lines, and no group is undone twice."""
    groups: dict[int, list[Row]] = defaultdict(list)
    for line in final.movements:
        groups[line["group"]].append(line)
    undone: dict[int, Event] = {}
    for effect in history.of("undo"):
        group = int(effect.target)
        taken_back = sorted((line["lot"], -line["change"]) for line in groups[group])
        written = sorted((line["lot"], line["change"]) for line in final.lines[effect.note])
        if taken_back != written:
            yield f"{effect.path} took back {written}, and group {group} was {groups[group]}"
        if group in undone:
            yield f"group {group} was undone by {undone[group].note} and by {effect.note}"
        undone[group] = effect


def spoiled_is_replaced_at_most(history: History, _final: Final) -> Iterator[str]:
    """What a spoil reserves was asked for, is for the same need, and no more than was spoiled."""
    for effect in history.of("spoil"):
        rows, spoiled = effect.reserved, effect.body.get("quantity") or effect.shown["spoiled"]
        same = all(row[of] == effect.shown[of] for row in rows for of in ("need", "job"))
        fits = sum(row["quantity"] for row in rows) <= spoiled
        if rows and not (effect.body.get("reserve_next") and same and fits):
            yield f"{effect.path} {dict(effect.body)} reserved {rows}"


def needs_follow_the_pieces(_history: History, final: Final) -> Iterator[str]:
    """What an open job's need has is what is promised for it, or used and not put back."""
    has: dict[int | None, list[int]] = defaultdict(lambda: [0, 0])
    put_back: dict[int | None, int] = defaultdict(int)
    for line in final.movements:
        put_back[line["reservation"]] += line["pieces"] * (line["verb"] == "put_back")
    for number, row in final.reservations.items():
        has[row["need"]][0] += row["promised"]
        has[row["need"]][1] += row["used"] - put_back[number]
    for number, job in final.jobs.items():
        for need in job.get("needs", []) if job["state"] == "open" else []:
            told = [need["promised"], need["used"]]
            lacks = sum(told) < need["quantity"] and need["state"] not in {"dropped", "undecided"}
            if told != has[need["id"]] or lacks != (need["state"] == "open"):
                yield f"{number} shows {need}, and its pieces are {has[need['id']]}"


def balances_follow_the_ledger(history: History, final: Final) -> Iterator[str]:
    """Line by line nothing is less than none, and every answer showed what the ledger says."""
    told = _told_in_hand(history)
    in_hand: dict[int, int] = defaultdict(int)
    for line in final.movements:
        lot = line["lot"]
        in_hand[lot] += line["change"]
        if in_hand[lot] < 0:
            yield f"lot {lot} had {in_hand[lot]} in hand after {line}"
        shown = told.get((line["note"], lot), in_hand[lot])
        if shown != in_hand[lot]:
            yield f"lot {lot} was shown with {shown}, and had {in_hand[lot]}: {line}"
    for effect in history.of("count"):
        if effect.shown["in_hand"] != effect.body["counted"]:
            yield f"{effect.path} {dict(effect.body)} left {effect.shown['in_hand']}"
    promised: dict[int, int] = defaultdict(int)
    for row in final.reservations.values():
        promised[row["lot"]] += row["promised"]
    for lot, row in final.lots.items():
        if (row["in_hand"], row["promised"]) != (in_hand[lot], promised[lot]):
            yield f"lot {lot} is {row}, and adds up to {in_hand[lot]}, {promised[lot]} promised"


def _told_in_hand(history: History) -> dict[tuple[str, int], int]:
    """Return by note and lot how many pieces an answer said were in hand after it."""
    told = {
        (effect.note, lot["id"]): lot["in_hand"]
        for effect in history.effects
        for lot in effect.lots
    }
    for effect in history.of("drawer_count"):
        for each in effect.shown["counted"]:
            told[effect.note, each["lot"]] = each["counted"]
    return told


def shown_lots_are_possible(history: History, final: Final) -> Iterator[str]:
    """No answer ever shows a lot with more promised than in hand."""
    shown = [
        lot
        for event in history.definite
        if event.status in {200, 201} and "in_hand" in event.text
        for lot in event.lots
    ]
    for lot in (*shown, *final.lots.values()):
        is_possible = 0 <= lot["promised"] <= lot["in_hand"]
        if not is_possible or lot["available"] != lot["in_hand"] - lot["promised"]:
            yield f"lot {lot['id']}: {lot['promised']} promised of {lot['in_hand']}"


def promises_are_those_told(history: History, final: Final) -> Iterator[str]:
    """Every reservation was told to one client, as it was asked for; a best set has no gap."""
    by_note: dict[str, dict[int, Row]] = defaultdict(dict)
    moved_to = {row["moved_to"] for row in final.reservations.values()}
    for number, row in final.reservations.items():
        if number not in moved_to:  # what took another's place keeps its note
            by_note[row["note"]][number] = row
    for effect in history.promising:
        told = {row["id"]: row for row in effect.reserved}
        kept = by_note.pop(effect.note, {})
        same = ("lot", "job", "need", "quantity", "expires_at")
        if {number: [row[name] for name in same] for number, row in told.items()} != {
            number: [row[name] for name in same] for number, row in kept.items()
        }:
            yield f"{effect.path} {dict(effect.body)} was granted {told}, and there is {kept}"
        if effect.name == "reserve" and [
            (row["lot"], row["quantity"] >= 1, row["job"]) for row in told.values()
        ] != [(effect.body["lot"], True, effect.target)]:
            yield f"{effect.path} {dict(effect.body)} was granted {told}"
        asked = effect.body.get("quantity") if effect.name == "reserve" else None
        if asked and sum(row["quantity"] for row in told.values()) != asked:
            yield f"{asked} asked for with {effect.path}, and granted {told}"
    for unknown in by_note.values():
        yield f"nobody was told of {unknown}"


def pieces_end_once(history: History, final: Final) -> Iterator[str]:
    """What clients were told of a reservation is one chain of steps, each explained by its verb.

    Only what shows no reservation may come between: a hold that lapses, a job's cancelling, a
    hold given up for an act on its lot. What lies in a tray does not lapse. A reservation of which
    ruin was undone shows less ruined than before: its ends are held against the ledger instead.
    """
    undone = {
        line["reservation"] for effect in history.of("undo") for line in effect.shown["movements"]
    }
    steps: dict[int, list[Event]] = defaultdict(list)
    for effect in history.of(*VERBS):
        steps[int(effect.target)].append(effect)
    given_up = {hold for effect in history.effects for hold in effect.body.get("release", [])}
    cancelled = {effect.target for effect in history.of("cancel")}
    moved = {each["reservation"] for effect in history.effects for each in effect.moved}
    for row, lapses in _all_made(history, final):
        last = final.reservations[row["id"]]
        if row["id"] in undone:
            steps.pop(row["id"], None)
            yield from _ends_in_the_ledger(last, final)
            continue
        chain = sorted(
            steps.pop(row["id"], []),
            key=lambda step: (-step.shown["promised"], step.shown["in_tray"]),
        )
        may_vanish = row["id"] in given_up or row["job"] in cancelled
        silently = {"lapsed"} | ({"released"} if may_vanish else set())
        before = row
        for step in chain:
            yield from _step(before, step.shown, step, silently)
            if step.shown["lapsed"] and step.answered < lapses:
                yield f"a hold lapsed too early: {step.shown}"
            before = step.shown
        yield from _step(before, last, None, silently | {"settled" for _ in {row["id"]} & moved})
    for unknown in steps.values():
        yield f"nobody was told of the reservation of {unknown}"


def _ends_in_the_ledger(last: Row, final: Final) -> Iterator[str]:
    """Say where a reservation counts other pieces as fitted or ruined than the ledger leaves it."""
    lines = [line for line in final.movements if line["reservation"] == last["id"]]
    undone = {line["undoes"] for line in lines}
    for verb, end in (("fitted", "used"), ("spoiled", "spoiled")):
        counted = sum(
            line["pieces"] for line in lines if line["verb"] == verb and line["group"] not in undone
        )
        if counted != last[end]:
            yield f"the ledger has {counted} {verb}: {last}"
    if last["quantity"] != last["promised"] + sum(last[end] for end in ENDS):
        yield f"not every piece ends once: {last}"


def _all_made(history: History, final: Final) -> Iterator[tuple[Row, float]]:
    """Yield each reservation that a client was told of as it was made, and when it may lapse.

    What took another's place has its end from that one.
    """
    for made in history.promising:
        for row in made.reserved:
            if row["id"] in final.reservations:
                yield row, made.sent + history.hold_seconds
        for each in made.moved:
            last = final.reservations.get(each["moved_to"])
            if last is not None:
                fresh = dict.fromkeys(("in_tray", *ENDS), 0)
                yield {**last, **fresh, "promised": last["quantity"]}, 0.0


def _step(before: Row, after: Row, verb: Event | None, silently: Collection[str]) -> Iterator[str]:
    """Say what is wrong with one step of a reservation's chain; pieces may end `silently` so."""
    ended = {end: after[end] - before[end] for end in ENDS}
    own = COUNTED_AS.get(verb.name, "") if verb else ""
    wrong = _own_end(ended[own], after, verb, silently) if own and verb else []
    silent = {end for end in ENDS if ended[end] and end != own}
    if silent - {*silently}:
        wrong.append(f"pieces were {', '.join(silent)}")
    if min(ended.values()) < 0:
        wrong.append("a count went down")
    if ended["lapsed"] > before["promised"] - before["in_tray"]:
        wrong.append("what lay in the tray lapsed")
    if ended["lapsed"] and after["expires_at"] is None:
        wrong.append("a hold without an end lapsed")
    if after["promised"] != after["quantity"] - sum(after[end] for end in ENDS):
        wrong.append("its pieces do not add up")
    if not 0 <= after["in_tray"] <= after["promised"]:
        wrong.append("its tray is impossible")
    if wrong:
        asked_for = f"{verb.name} {dict(verb.body)}" if verb else "nothing"
        yield f"{'; '.join(wrong)}: {dict(before)}, then {asked_for}, then {dict(after)}"


def _own_end(ended: int, after: Row, verb: Event, silently: Collection[str]) -> list[str]:
    """Say what is wrong with how many pieces a verb ended; without a number it ends them all."""
    asked = verb.body.get("quantity")
    if asked is None:
        return ["something is still promised"] if after["promised"] or ended < 1 else []
    more_may_end = verb.name == "release" and "released" in silently
    is_right = ended >= asked if more_may_end else ended == asked
    return [] if is_right else [f"{ended} ended instead of {asked}"]


def never_more_promised_than_in_hand(history: History, final: Final) -> Iterator[str]:
    """At no instant was more of a lot surely promised than can have been in hand.

    Surely: a client had been told of it, and nobody had asked for anything that would end it.
    """
    ends, leaves = _first_asked(history), _first_moved(history)
    moments: dict[int, list[tuple[float, int, int]]] = defaultdict(list)
    for effect in history.effects:
        for line in final.lines.get(effect.note_in_ledger, []):
            seen = effect.sent if line["change"] > 0 else effect.answered
            moments[line["lot"]].append((seen, line["change"], 0))
    for made in history.promising:
        for row in made.reserved:
            lapses = made.sent + history.hold_seconds
            until = min(lapses, ends[str(row["id"])], ends[row["job"]], leaves[row["id"]])
            if until > made.answered:
                moments[row["lot"]].append((made.answered, 0, row["quantity"]))
                moments[row["lot"]].append((until, 0, -row["quantity"]))
    for lot, timeline in moments.items():
        in_hand = promised = 0
        for _, change, quantity in sorted(timeline, key=lambda moment: (moment[0], moment[2])):
            in_hand, promised = in_hand + change, promised + quantity
            if promised > in_hand:
                yield f"lot {lot}: {promised} were promised when at most {in_hand} were in hand"
                break


def _first_asked(history: History) -> dict[str, float]:
    """Return when the end of a reservation, or of all of a job, was first asked for."""
    first: dict[str, float] = defaultdict(lambda: float("inf"))
    for event in history.events:
        ended = [str(hold) for hold in event.body.get("release", [])]
        if event.name in {"cancel", "close", *COUNTED_AS}:
            ended.append(event.target)
        for each in ended:
            first[each] = min(first[each], event.sent)
    return first


def _first_moved(history: History) -> dict[int, float]:
    """Return when that was asked for which made a promise move aside."""
    first: dict[int, float] = defaultdict(lambda: float("inf"))
    for effect in history.effects:
        for each in effect.moved:
            first[each["reservation"]] = effect.sent
    return first


def jobs_end_once(history: History, final: Final) -> Iterator[str]:
    """A job is there once, ends once, and is promised nothing after its end."""
    opened = {effect.shown["number"]: effect for effect in history.of("open")}
    if opened.keys() != final.jobs.keys() or len(opened) != len(history.of("open")):
        yield f"{opened.keys() ^ final.jobs.keys()} were told to nobody, or are not there"
    ends: dict[str, list[Event]] = defaultdict(list)
    for effect in history.of("close", "cancel"):
        ends[effect.target].append(effect)
    state = {"close": "closed", "cancel": "cancelled"}
    for number, job in final.jobs.items():
        told = [state[effect.name] for effect in ends[number]] or ["open"]
        if told != [job["state"]]:
            yield f"{number} is {job['state']}, and clients were told {told}"
    for row in final.reservations.values():
        if row["promised"] and final.jobs[row["job"]]["state"] != "open":
            yield f"{row['job']} has ended, and is promised {dict(row)}"
    for made in history.promising:
        for row in made.reserved:
            if any(made.sent > end.answered for end in ends[row["job"]]):
                yield f"{row['job']} had ended, and was granted {row}"


ORACLES: tuple[Oracle, ...] = (
    keys_answer_alike,
    ledger_is_what_was_told,
    balances_follow_the_ledger,
    shown_lots_are_possible,
    promises_are_those_told,
    pieces_end_once,
    never_more_promised_than_in_hand,
    jobs_end_once,
    undone_is_the_opposite,
    spoiled_is_replaced_at_most,
    needs_follow_the_pieces,
    what_moved_was_replaced,
    what_is_pinned_stays,
)
