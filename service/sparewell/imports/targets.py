"""What a column of a notebook may be taken as, and the words that beginners head it with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from marshmallow import fields, validate

from sparewell.catalogue.schemas import SIZE_WORDS, PartDescription
from sparewell.donors.schemas import DonorDescription
from sparewell.edge.description import REQUIRED, AnyField, Description, Heading
from sparewell.edge.fields import DimensionMap, MadeOnDate, Money
from sparewell.edge.measured import MeasuredMap
from sparewell.extend.declarations import PartKind
from sparewell.extend.host import Declarations
from sparewell.filling_systems.operations import readable_fields
from sparewell.imports.cells import (
    ACCEPTED,
    Reader,
    choice_reader,
    folded,
    read_day,
    read_length,
    read_list,
    read_made_on,
    read_money,
    read_pieces,
    read_text,
)
from sparewell.imports.past_jobs import PastJobDescription
from sparewell.lots.schemas import AttributeMap, LotDescription
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.length import parse_length
from sparewell.pens.schemas import PenDescription, ReadingMap

LOTS, PARTS, DONORS, PENS, JOBS = KINDS_OF_FILE = ("lots", "parts", "donors", "pens", "jobs")
_DIMENSION_WORDS: Mapping[str, tuple[str, ...]] = {
    "outside_diameter": (
        *("od", "o d", "outside dia", "outer diameter", "outer dia", "outside", "outer"),
        *("dia", "diameter", "outside ø", "ø", "ext dia", "external diameter"),
    ),
    "inside_diameter": (
        *("id", "i d", "inside dia", "inner diameter", "inner dia", "inside", "inner"),
        *("bore", "hole", "inside ø", "int dia", "internal diameter"),
    ),
    "cross_section": ("cs", "c s", "section", "cord", "cross sect", "thickness of ring"),
    "thickness": ("thick", "wall", "wall thickness"),
    "length": ("len", "long", "l"),
    "width": ("wide", "w"),
    "height": ("high", "h"),
    "depth": ("deep",),
    "wire_diameter": ("wire", "wire dia", "wire thickness"),
    "neck_diameter": ("neck", "neck dia"),
    "tip_diameter": ("tip", "tip dia"),
    "thread_diameter": ("thread", "thread dia"),
    "thread_lead": ("lead", "pitch", "thread pitch"),
}
_OUTCOMES = {
    **dict.fromkeys(("good", "ok", "okay", "fine", "fits", "fitted", "yes", "perfect"), "good"),
    **dict.fromkeys(("tight", "too tight", "too big"), "tight"),
    **dict.fromkeys(("loose", "too loose", "too small"), "loose"),
    **dict.fromkeys(("leaked", "leak", "leaks", "leaking", "failed"), "leaked"),
}


_A_64TH = parse_length("1/64 in")
_NO_READERS: Mapping[str, Reader] = {}
_NO_WORDS: Mapping[str, Sequence[str]] = {}


@dataclass(frozen=True)
class Target:
    """One thing that a column may be taken as.

    `name` is that of the API, a step inside it behind a point. `words` are compared as
    :func:`sparewell.imports.cells.folded` leaves them. `remark` is said where it is guessed. Under
    a header among `sizes` a figure without a unit is in 64ths of an inch.
    """

    name: str
    title: str
    words: tuple[str, ...] = ()
    read: Reader = read_text
    required: bool = False
    remark: str = ""
    sizes: frozenset[str] = frozenset()

    @property
    def accepted(self) -> str:
        """What a cell may say, in words."""
        return ACCEPTED.get(self.read, "a text" if self.read is read_text else self.title)

    @property
    def takes_unit(self) -> bool:
        """Whether a unit in the header says how its cells are to be read."""
        return self.read is read_length


def targets_of(of: str, declared: Declarations) -> dict[str, Target]:
    """Return what the columns of one kind of file may be taken as, by name."""
    made = {LOTS: _lots, PARTS: _parts, DONORS: _donors, PENS: _pens, JOBS: _jobs}[of](declared)
    sizes = frozenset(_sizes(declared))
    return {each.name: replace(each, sizes=sizes) if each.takes_unit else each for each in made}


def _described(
    description: type[Description],
    declared: Declarations,
    readers: Mapping[str, Reader] = _NO_READERS,
    more_words: Mapping[str, Sequence[str]] = _NO_WORDS,
) -> Iterator[Target]:
    """Give the columns that a thing's description names."""
    for name, each in description.described.items():
        column = each.column
        if column is None:
            continue
        match each.field:
            case MeasuredMap():
                yield from _dimensions(name, f", {column.title}", column.remark)
                yield from _how_measured()
            case DimensionMap():
                yield from _nominal(name, column.remark, declared)
            case AttributeMap():
                yield from _attributes(name, declared)
            case ReadingMap():
                yield from _readings(name, declared)
            case _:
                words = (*column.words, *more_words.get(name, ()))
                read = readers.get(name) or _reader_of(each.field, column)
                required = each.new is REQUIRED
                yield Target(name, column.title, words, read, required, column.remark)


_READERS: Sequence[tuple[type[AnyField], Reader]] = (
    (Money, read_money),
    (MadeOnDate, read_made_on),
    (fields.Integer, read_pieces),
    (fields.Date, read_day),
    (fields.List, read_list),
)


def _reader_of(field: AnyField, column: Heading) -> Reader:
    if isinstance(field.validate, validate.OneOf):
        words = map(str, field.validate.choices)
        return choice_reader({word: word for word in words}, column.choice)
    return next((read for type_, read in _READERS if isinstance(field, type_)), read_text)


def _dimensions(inside: str, how: str, remark: str) -> Iterator[Target]:
    for name, title in DIMENSIONS.items():
        words = (folded(name), *_DIMENSION_WORDS[name])
        yield Target(f"{inside}.{name}", f"{title}{how}", words, read_length, remark=remark)


def _nominal(inside: str, remark: str, declared: Declarations) -> Iterator[Target]:
    """Give the columns of nominal dimensions; a size is the dimension that kind is led by."""
    led_by = {kind.led_by for kind in _sized_in_64ths(declared)}
    for target in _dimensions(inside, "", ""):
        if target.name.removeprefix(f"{inside}.") in led_by:
            yield replace(target, words=(*target.words, *_sizes(declared)), remark=remark)
        else:
            yield target


def _sized_in_64ths(declared: Declarations) -> list[PartKind]:
    return [kind for kind in declared.kinds.values() if kind.size_step == _A_64TH]


def _sizes(declared: Declarations) -> list[str]:
    """Return the headers under which a bare figure is a size in 64ths of an inch."""
    kinds = [folded(kind.name) for kind in _sized_in_64ths(declared)]
    return [*SIZE_WORDS, *(f"{kind} {word}" for kind in kinds for word in ("size", "no", "number"))]


def _how_measured() -> Iterator[Target]:
    """Give the columns that say how a dimension was measured, under the headers of the export."""
    for name, title in DIMENSIONS.items():
        spoken = name.replace("_", " ")
        yield Target(
            f"spread.{name}", f"{title}, plus and minus", (f"spread of {spoken}",), read_length
        )
        yield Target(f"instrument.{name}", f"{title}, measured with", (f"instrument for {spoken}",))


def _attributes(inside: str, declared: Declarations) -> Iterator[Target]:
    titles = {
        attribute.name: attribute.title
        for kind in declared.kinds.values()
        for attribute in kind.attributes
    }
    for name, title in titles.items():
        yield Target(f"{inside}.{name}", title, (folded(name),))


def _readings(inside: str, declared: Declarations) -> Iterator[Target]:
    for name, field in readable_fields(declared, None).items():
        words = (folded(name), *_READING_WORDS.get(name, ()))
        yield Target(f"{inside}.{name}", field.title or name, words, read_length)


def _lots(declared: Declarations) -> Iterator[Target]:
    return _described(LotDescription, declared, more_words={"label": _sizes(declared)})


def _parts(declared: Declarations) -> Iterator[Target]:
    return _described(PartDescription, declared, {"kind": _kind_reader(declared)})


def _kind_reader(declared: Declarations) -> Reader:
    return choice_reader(_kind_words(declared), "kind of part")


def _kind_words(declared: Declarations) -> dict[str, str]:
    words: dict[str, str] = {}
    for name, kind in declared.kinds.items():
        for spelled in (folded(name), folded(kind.title), name.replace("_", "")):
            for ending in ("", "s", "es"):
                words.setdefault(spelled + ending, name)
    return words


def _donors(declared: Declarations) -> Iterator[Target]:
    return _described(DonorDescription, declared)


def _system_words(declared: Declarations) -> dict[str, str]:
    words: dict[str, str] = {}
    for name, system in declared.filling_systems.items():
        for spelled in (folded(name), folded(system.title)):
            for ending in ("", " filler", " filling", " fill", " filled"):
                words.setdefault(spelled + ending, name)
    return words


def _read_system(words: Mapping[str, str]) -> Reader:
    """Return the reader of a filling system; what it does not know may be the workshop's own."""

    def read(text: str, _manner: object) -> str:
        return words.get(folded(text), text)

    return read


def _pens(declared: Declarations) -> Iterator[Target]:
    system = _read_system(_system_words(declared))
    return _described(PenDescription, declared, {"filling_system": system})


_READING_WORDS: Mapping[str, tuple[str, ...]] = {
    "barrel_bore": ("barrel id", "bore of barrel", "inside of barrel", "barrel inside"),
    "barrel_depth": ("barrel length", "depth of barrel"),
    "bar_height": ("bar", "j bar height", "height of bar"),
    "nipple_diameter": ("nipple", "nipple od", "nipple dia", "section nipple", "peg"),
    "rod_diameter": ("rod dia",),
}


def _jobs(declared: Declarations) -> Iterator[Target]:
    kinds = [folded(kind.name) for kind in _sized_in_64ths(declared)]
    readers = {
        "filling_system": _read_system(_system_words(declared)),
        "kind": _kind_reader(declared),
        "outcome": choice_reader(_OUTCOMES, "outcome"),
    }
    return _described(PastJobDescription, declared, readers, {"label": [*kinds, *_sizes(declared)]})


def names(targets: Mapping[str, Target], wanted: Sequence[str] = ()) -> str:
    """Return names of targets for a sentence."""
    return ", ".join(wanted or targets)
