"""Small workshops at random, and the best share of their pieces by trying all there are."""

from __future__ import annotations

import random
from collections.abc import Iterator

from sparewell.plans.sharing import (
    Asking,
    Movable,
    Option,
    Share,
    Want,
    Weight,
    Workshop,
    fault_of,
    levels_of,
)

Amounts = tuple[int, ...]


def amounts(workshop: Workshop, share: Share) -> Amounts:
    """Return what a share is worth, as numbers to compare."""
    return tuple(level.amount for level in levels_of(workshop, share))


def dice_of(seed: int) -> random.Random:
    """Return the dice of a seed."""
    return random.Random(seed)  # noqa: S311 - a seed to repeat it with


def small_workshop(seed: int) -> Workshop:
    """Return a workshop of two to three jobs and up to four lots."""
    dice = dice_of(seed)
    lots = list(range(1, dice.randint(2, 5)))
    free = {lot: dice.choice([0, 1, 1, 1, 2]) for lot in lots}
    need = iter(range(100))
    askings = tuple(_asking(dice, job, need, lots) for job in range(1, dice.randint(3, 4)))
    movable = tuple(
        Movable(200 + number, 50 + number, next(need), dice.choice(lots), 1, _options(dice, lots))
        for number in range(dice.choice([0, 0, 1, 2]))
    )
    movable = tuple(
        Movable(
            each.reservation,
            each.job,
            each.need,
            each.lot,
            each.pieces,
            tuple(option for option in each.options if option.lot != each.lot),
        )
        for each in movable
    )
    inside = {lots[0]: (lots[-1],)} if len(lots) > 1 and dice.random() < 0.3 else {}
    if inside:
        movable = ()
        free |= dict.fromkeys((lots[0], lots[-1]), 1)
    return Workshop(
        askings,
        free,
        movable,
        inside,
        {lot: dice.choice(["small", "large"]) for lot in lots},
        dice.choice([None, None, 60]),
        dice.choice(list(Weight)),
    )


def _asking(dice: random.Random, job: int, need: Iterator[int], lots: list[int]) -> Asking:
    first = tuple(
        Want(next(need), dice.choice([1, 1, 1, 2]), _options(dice, lots))
        for _ in range(dice.choice([1, 1, 2]))
    )
    other = tuple(Want(want.need, want.pieces, _options(dice, lots)) for want in first)
    ways = (first, other) if dice.random() < 0.25 else (first,)
    return Asking(
        job,
        ways,
        dice.choice([None, None, 700, 701]),
        dice.choice([0, 10, 25]),
        dice.choice([0, 20, 40]),
        waits=dice.random() < 0.15,
    )


def _options(dice: random.Random, lots: list[int]) -> tuple[Option, ...]:
    some = dice.sample(lots, dice.randint(1, len(lots)))
    return tuple(Option(lot, dice.randint(0, 2), dice.randint(0, 2)) for lot in some)


def best_by_trying(workshop: Workshop) -> Amounts:
    """Return what the best of all shares is worth."""
    return max(amounts(workshop, share) for share in _every(workshop))


def _every(workshop: Workshop) -> Iterator[Share]:
    for moves in _moves(workshop.movable):
        for ways, takes in _finished(workshop, list(workshop.askings)):
            for kept in _kept(workshop, ways):
                share = Share(ways, takes, moves, kept)
                if fault_of(workshop, share) is None:
                    yield share


def _moves(movable: tuple[Movable, ...]) -> Iterator[dict[int, int]]:
    if not movable:
        yield {}
        return
    first, *others = movable
    for rest in _moves(tuple(others)):
        yield rest
        for option in first.options:
            yield {first.reservation: option.lot, **rest}


def _finished(
    workshop: Workshop, askings: list[Asking]
) -> Iterator[tuple[dict[int, int], dict[tuple[int, int], int]]]:
    if not askings:
        yield {}, {}
        return
    first, *others = askings
    for ways, takes in _finished(workshop, others):
        yield ways, takes
        for way, wants in enumerate(first.ways):
            for taken in _taken(wants):
                yield {first.job: way, **ways}, {**taken, **takes}


def _taken(wants: tuple[Want, ...]) -> Iterator[dict[tuple[int, int], int]]:
    if not wants:
        yield {}
        return
    first, *others = wants
    for rest in _taken(tuple(others)):
        for split in _splits(first.pieces, [option.lot for option in first.options]):
            yield {**{(first.need, lot): pieces for lot, pieces in split.items()}, **rest}


def _splits(pieces: int, lots: list[int]) -> Iterator[dict[int, int]]:
    if not lots:
        if pieces == 0:
            yield {}
        return
    for some in range(pieces + 1):
        for rest in _splits(pieces - some, lots[1:]):
            yield {lots[0]: some, **rest} if some else rest


def _kept(workshop: Workshop, ways: dict[int, int]) -> Iterator[dict[tuple[int, int], int]]:
    """Yield what may be left for dated jobs that are not finished."""
    found: list[dict[tuple[int, int], int]] = [{}]
    for asking in workshop.kept_for:
        if asking.job not in ways:
            for want in asking.ways[0]:
                splits = [
                    {(want.need, lot): count for lot, count in split.items()}
                    for pieces in range(want.pieces + 1)
                    for split in _splits(pieces, [option.lot for option in want.options])
                ]
                found = [{**each, **split} for each in found for split in splits]
    yield from found
