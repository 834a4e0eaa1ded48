"""What a plugin may declare: kinds of part, calculators, filling systems, tables.

All are frozen dataclasses; each that a hook returns has a `name` unique among all plugins. Rules
about materials stand in `rules.py` beside this file, those about ordering in `reordering.py`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from sparewell.extend.fields import Field, Output, Setting
from sparewell.extend.inputs import Inputs
from sparewell.extend.scales import MarginScale
from sparewell.extend.sentences import Sentence
from sparewell.measure.length import parse_length

if TYPE_CHECKING:
    from sqlalchemy import MetaData, Table

NAME = re.compile(r"[a-z][a-z0-9_]{0,39}", re.ASCII)
NAME_RULE = "a name has small letters, digits and underscores, a letter first"

THRESHOLD_COLUMNS = ("id", "part_id", "policy", "parameters", "why", "actor", "person", "at")

Given = str | int | bool


@dataclass(frozen=True)
class KindDimension:
    """One dimension by which a kind is described; `plausible` bounds (nanometres) only warn."""

    name: str
    plausible: tuple[int, int] | None = None

    @classmethod
    def usual(cls, name: str, low: str, high: str) -> KindDimension:
        """Return a dimension with its usual bounds, as a person writes them."""
        return cls(name, (parse_length(low), parse_length(high)))


@dataclass(frozen=True)
class PartKind:
    """A family of parts. `led_by` is the dimension it is looked up by (an indexed one).

    `attributes` describe what is no length: the starts of a thread, its hand, a grade, a colour.
    `read_label(text)` returns the dimensions, in nanometres, that the number on a packet stands
    for, and none where it says no size; `size_step` is how far one size is from the next in the
    leading dimension, so that a packet two sizes off what it holds can be told. `glued` says that
    its pieces are glued in, so that the glue of a job is told of them and of no others.
    """

    name: str
    title: str
    dimensions: tuple[KindDimension, ...]
    led_by: str
    materials: tuple[str, ...] = ()
    counted_by: tuple[str, ...] = ("piece",)
    attributes: tuple[Field, ...] = ()
    read_label: Callable[[str], Mapping[str, int]] | None = None
    size_step: int | None = None
    glued: bool = False


@dataclass(frozen=True)
class Answer:
    """What a calculator answers: members named by its outputs, and what to say beside them."""

    result: Mapping[str, object]
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class ImpossibleInput(Exception):  # noqa: N818 - an expected refusal, like those of sparewell.errors
    """Raised by `compute` for inputs that cannot be true together: (input name, sentence)."""

    def __init__(self, *problems: tuple[str, str]) -> None:
        super().__init__("; ".join(sentence for _, sentence in problems))
        self.problems = problems


@dataclass(frozen=True)
class Range:
    """Bounds of one dimension in nanometres, inclusive; None leaves a side open."""

    low: int | None = None
    high: int | None = None


@dataclass(frozen=True)
class Purchase:
    """What to ask a seller for, and what to check when it arrives."""

    ask_for: str
    check_on_arrival: str


@dataclass(frozen=True)
class Envelope:
    """What would fit: a box of ranges, and the ideal of the dimension that leads the search."""

    kind: str
    ideal: int
    ranges: Mapping[str, Range]
    to_buy: tuple[Purchase, ...] = ()


@dataclass(frozen=True)
class Piece:
    """What is known of the pieces of one lot.

    `dimensions` are nanometres; `basis` says of each whether it was "measured" on the lot or is
    the part's "nominal". `attributes` are as the kind describes them, numbers as texts. A material
    of None is unknown. `spreads` are how far measured dimensions may be off either way, in
    nanometres, of those of which it was said.
    """

    kind: str
    dimensions: Mapping[str, int]
    basis: Mapping[str, str]
    material: str | None = None
    material_confidence: str = "unknown"
    label: str | None = None
    attributes: Mapping[str, str | int | bool] = field(default_factory=dict)
    spreads: Mapping[str, int] = field(default_factory=dict)

    @property
    def facts(self) -> Hashable:
        """Everything that is known of it: pieces of equal facts are alike."""
        return (
            *(self.kind, self.material, self.material_confidence, self.label),
            *(tuple(self.dimensions.items()), tuple(self.basis.items())),
            *(tuple(self.attributes.items()), tuple(self.spreads.items())),
        )


class Verdict(StrEnum):
    """How a piece fits. The order is the order of preference."""

    FITS = "fits"
    TRY_IN = "try_in"
    TIGHT = "tight"
    LOOSE = "loose"
    REFUSED = "refused"


@dataclass(frozen=True)
class Price:
    """What a piece or a size costs the pen; None where that is not known, or is no question.

    Capacity is what it holds less than the size that is recommended: less than nothing is more.
    """

    capacity_less_ml: Decimal | None = None
    capacity_less_percent: Decimal | None = None
    stretch_percent: Decimal | None = None


@dataclass(frozen=True)
class Making:
    """How many fitting pieces one piece of another kind gives, and what is done to get them."""

    pieces: int
    says: str


@dataclass(frozen=True)
class Judgement:
    """The verdict on one piece. Margins: int nanometres of room, or a Decimal as it stands.

    `why` is a text, or a function that writes it: it is called for the pieces that are shown.
    Among pieces of one verdict the lower `preference` goes first, and only then age decides: so
    keep it coarse. One that `is_recommended` is what the answer itself says to take: in a drawer it
    goes before a better verdict, if it can be taken at all. One that is not `is_taken_unasked`
    would do, and is offered, but no plan takes it until a person does.
    """

    verdict: Verdict
    why: Sentence = Sentence()  # noqa: RUF009 - a descriptor, not a default
    margins: Mapping[str, int | Decimal] = field(default_factory=dict)
    preference: int = 0
    is_recommended: bool = False
    is_taken_unasked: bool = True


@dataclass(frozen=True)
class Substitute:
    """A size, or another way, that would do as well: what it is, why, and what it costs."""

    what: str
    why: str
    price: Price = field(default_factory=Price)


@dataclass(frozen=True)
class MeasureAgain:
    """A reading that was taken, and of which a small error would move the answer."""

    reading: str
    why: str


@dataclass(frozen=True)
class Advice:
    """A calculator's answer in short, for the plan of a job.

    `limited_by` and `outcome` are words of its own result. `measure_again` stands in the order of
    what decides most.
    """

    look_for: str
    limited_by: str | None = None
    outcome: str | None = None
    substitutes: tuple[Substitute, ...] = ()
    measure_again: tuple[MeasureAgain, ...] = ()


@dataclass(frozen=True)
class Calculator:
    """A sizing rule.

    `compute(inputs)` answers; it raises :class:`ImpossibleInput` for readings that contradict
    each other. `kind` with `envelope` and `judge` lets it choose among pieces in hand.
    `drawing(inputs)` returns an SVG document to scale. For the plan of a job `advise(inputs)`
    returns the answer in short, where it knows more than what its envelope would buy, and
    `price(inputs, piece)` what a piece that would do costs the pen. `headline` names the outputs
    that are the answer in large figures, in their order; a step into a group stands behind a dot
    (`rings.size`), and of many the first counts. `asks_first` names the inputs that a form shows in
    the open; without it those that are required, and those read off a pen. `settles(inputs, piece)`
    returns the readings, in nanometres, that a piece settles for other calculators once it is
    fitted: how high a bar stands, say. `quantity` names the output that says how many pieces fill
    the place, as a maximum (`stack.count`), for a need that is a range; `quantity_says` goes on
    after that number. `make` says what a piece of the kind `made_from` gives, or None. `scales` are
    what its margins are held against when it is known how the pieces turned out.
    """

    name: str
    title: str
    help: str
    inputs: tuple[Field, ...]
    outputs: tuple[Output, ...]
    compute: Callable[[Inputs], Answer]
    sources: tuple[str, ...]
    settings: tuple[Setting, ...] = ()
    kind: str | None = None
    envelope: Callable[[Inputs], Envelope] | None = None
    judge: Callable[[Inputs, Piece], Judgement] | None = None
    drawing: Callable[[Inputs], str] | None = None
    headline: tuple[str, ...] = ()
    asks_first: tuple[str, ...] = ()
    advise: Callable[[Inputs], Advice] | None = None
    price: Callable[[Inputs, Piece], Price] | None = None
    settles: Callable[[Inputs, Piece], Mapping[str, int]] | None = None
    quantity: str = ""
    quantity_says: str = ""
    made_from: str = ""
    make: Callable[[Inputs, Piece], Making | None] | None = None
    scales: tuple[MarginScale, ...] = ()

    @property
    def fits_pieces(self) -> bool:
        """Whether it can choose among pieces in hand."""
        return self.envelope is not None and self.judge is not None


@dataclass(frozen=True)
class TemplateNeed:
    """One perishable of a filling system. Without a calculator, a person names the piece.

    `at_most` is the other end of a range such as two to four packings, `quantity` being the least;
    where the calculator knows how many fill the place, the plan asks for those.
    `given` are inputs of its calculator that hold for this need alone. `reads` says which reading
    an input is taken from where that has another name (or, without a calculator, which reading a
    dimension of the kind is chosen by): two rods in one pen are two readings. Needs that share a
    word in `together` are replaced together. One that is `decided_when_open` is not looked for
    until a person has seen inside. `materials` are those that are taken, the first one first, ahead
    of size and age; any other is offered, and taken only when a person asks for it.
    """

    kind: str
    seals_where: str
    quantity: int = 1
    calculator: str | None = None
    optional: bool = False
    at_most: int | None = None
    given: Mapping[str, Given] = field(default_factory=dict)
    reads: Mapping[str, str] = field(default_factory=dict)
    together: str = ""
    decided_when_open: bool = False
    note: str = ""
    materials: tuple[str, ...] = ()


@dataclass(frozen=True)
class TemplateReading:
    """One reading of the pen that its parts are sized by, and how it is taken.

    One that a calculator takes may leave its title and its `how` to the calculator; any other is a
    length and needs both.
    """

    name: str
    title: str = ""
    instrument: str = ""
    how: str = ""
    traps: tuple[str, ...] = ()


@dataclass(frozen=True)
class TemplateTest:
    """One test of the repaired pen: how it is done, what passes, and the figure if there is one.

    `expected` names the member of a need's answer whose `low` is what this very pen should reach.
    """

    name: str
    how: str
    passes: str
    at_least: Decimal | None = None
    at_most: Decimal | None = None
    unit: str = ""
    expected: str = ""


@dataclass(frozen=True)
class Step:
    """One thing done to the pen, and what is put on it (for the cautions)."""

    name: str
    substance: str | None = None
    note: str = ""


@dataclass(frozen=True)
class FillingSystem:
    """A template of a repair. `given` are inputs that hold for every pen of the system.

    `steps` stand in the order in which the pen is opened and closed again.
    """

    name: str
    title: str
    needs: tuple[TemplateNeed, ...]
    readings: tuple[TemplateReading, ...]
    consumables: tuple[str, ...]
    steps: tuple[Step, ...]
    sources: tuple[str, ...]
    notes: tuple[str, ...] = ()
    given: Mapping[str, Given] = field(default_factory=dict)
    tests: tuple[TemplateTest, ...] = ()


@dataclass(frozen=True)
class SizeTable:
    """A published table of sizes, and where it was published.

    `columns` describe the members of each row; the first is the `size`, a text.
    """

    name: str
    title: str
    source: str
    columns: tuple[Output, ...]
    rows: tuple[Mapping[str, object], ...]


@dataclass(frozen=True)
class PluginTables:
    """The tables a plugin owns: named `<name>_...`, with a migration lineage of their own.

    `thresholds` is the one among them in which the service keeps what is said of when each part is
    to be ordered; it has the columns of `THRESHOLD_COLUMNS`.
    """

    name: str
    metadata: MetaData
    versions: Path
    thresholds: Table | None = None
