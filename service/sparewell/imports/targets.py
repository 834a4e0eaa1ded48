"""What a column of a notebook may be taken as, and the words that beginners head it with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

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
from sparewell.lots.conditions import Confidence
from sparewell.measure.dimensions import DIMENSIONS

LOTS, PARTS, DONORS, PENS, JOBS = KINDS_OF_FILE = ("lots", "parts", "donors", "pens", "jobs")
SIZE_IN_64THS = ("size", "sac size", "sac no", "sac number", "size in 64ths")
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
_PART_WORDS = (
    *("part no", "part number", "part", "item", "item no", "item number", "article"),
    *("article no", "sku", "code", "part code", "catalogue no", "catalogue number", "ref"),
    *("reference", "no", "number"),
)
_NOTE = ("note", "notes", "remark", "remarks", "comment", "comments")
_MATERIAL = ("material", "stuff", "made of", "rubber", "mat")
_OUTCOMES = {
    **dict.fromkeys(("good", "ok", "okay", "fine", "fits", "fitted", "yes", "perfect"), "good"),
    **dict.fromkeys(("tight", "too tight", "too big"), "tight"),
    **dict.fromkeys(("loose", "too loose", "too small"), "loose"),
    **dict.fromkeys(("leaked", "leak", "leaks", "leaking", "failed"), "leaked"),
}


@dataclass(frozen=True)
class Target:
    """One thing that a column may be taken as.

    `name` is that of the API, a step inside it behind a point. `words` are compared as
    :func:`sparewell.imports.cells.folded` leaves them. `remark` is said where it is guessed.
    """

    name: str
    title: str
    words: tuple[str, ...] = ()
    read: Reader = read_text
    required: bool = False
    remark: str = ""
    unit: str | None = None

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
    return {target.name: target for target in made}


def _dimensions(inside: str, how: str, remark: str) -> list[Target]:
    return [
        Target(
            f"{inside}.{name}",
            f"{title}{how}",
            (folded(name), *_DIMENSION_WORDS[name]),
            read_length,
            remark=remark,
        )
        for name, title in DIMENSIONS.items()
    ]


def _how_measured() -> Iterator[Target]:
    """Give the columns that say how a dimension was measured, under the headers of the export."""
    for name, title in DIMENSIONS.items():
        spoken = name.replace("_", " ")
        yield Target(
            f"spread.{name}", f"{title}, plus and minus", (f"spread of {spoken}",), read_length
        )
        yield Target(f"instrument.{name}", f"{title}, measured with", (f"instrument for {spoken}",))


def _lots(declared: Declarations) -> list[Target]:
    attributes = {
        attribute.name: attribute.title
        for kind in declared.kinds.values()
        for attribute in kind.attributes
    }
    return [
        Target("part", "the number of its part", _PART_WORDS, required=True),
        Target(
            "drawer",
            "where it lies",
            (
                *("drawer", "drawer box", "box", "where", "location", "place", "bin", "tin"),
                *("compartment", "lives in", "shelf", "drawer code", "tray"),
            ),
            required=True,
        ),
        Target(
            "quantity",
            "how many pieces",
            (
                *("qty", "quantity", "count", "how many", "pcs", "pieces", "number of pieces"),
                *("in hand", "on hand", "in stock", "stock", "amount", "have", "left"),
            ),
            read_pieces,
            required=True,
        ),
        Target(
            "label",
            "what the packet says",
            ("label", "packet", "packet label", "says", "marked", *SIZE_IN_64THS),
            remark="a size on a packet is a claim, not a measurement",
        ),
        *_dimensions("measured", ", measured", "taken as measured on these pieces"),
        *_how_measured(),
        *_age_and_cost(),
        *(
            Target(f"attributes.{name}", title, (folded(name),))
            for name, title in attributes.items()
        ),
        Target("note", "a note", _NOTE),
    ]


def _age_and_cost() -> list[Target]:
    return [
        Target("material", "what it is made of", _MATERIAL),
        Target(
            "material_confidence",
            "how sure the material is",
            ("material confidence",),
            choice_reader({name: name for name in Confidence}, "degree of sureness"),
        ),
        Target(
            "made_on",
            "when it was made",
            (
                *("made", "made on", "made in", "manufactured", "date made", "cure date", "cured"),
                *("mfd", "date of manufacture"),
            ),
            read_made_on,
        ),
        Target(
            "arrived_on",
            "the day on which it came",
            (
                *("bought", "bought on", "date bought", "purchased", "purchase date", "date"),
                *("arrived", "arrived at", "arrived on", "received", "when bought"),
            ),
            read_day,
        ),
        Target(
            "cost",
            "what all of it cost",
            ("cost", "price", "paid", "total price", "total cost", "price paid", "cost total"),
            read_money,
            remark="taken as what the whole lot cost; cost_each is the price of one piece",
        ),
        Target(
            "cost_each",
            "what one piece cost",
            (
                *("price each", "unit price", "each", "cost each", "price per piece"),
                *("unit cost", "per piece", "price piece"),
            ),
            read_money,
        ),
    ]


def _parts(declared: Declarations) -> list[Target]:
    sizes = Target(
        "dimensions.outside_diameter",
        "outside diameter",
        (folded("outside_diameter"), *_DIMENSION_WORDS["outside_diameter"], *SIZE_IN_64THS),
        read_length,
        remark="a size that names no unit, under such a header, is in 64ths of an inch",
    )
    return [
        Target("number", "its number", _PART_WORDS, required=True),
        Target(
            "kind",
            "what kind of part it is",
            ("kind", "type", "category", "what", "sort", "kind of part"),
            choice_reader(_kind_words(declared), "kind of part"),
            required=True,
        ),
        Target(
            "name",
            "what it is called",
            ("name", "description", "desc", "called", "title", "part name", "item name"),
        ),
        Target("material", "what it is made of", _MATERIAL),
        Target("counted_by", "what it is counted by", ("counted by", "unit", "sold by")),
        sizes,
        *(
            target
            for target in _dimensions("dimensions", "", "")
            if target.name != "dimensions.outside_diameter"
        ),
        Target("note", "a note", _NOTE),
    ]


def _kind_words(declared: Declarations) -> dict[str, str]:
    words: dict[str, str] = {}
    for name, kind in declared.kinds.items():
        for spelled in (folded(name), folded(kind.title)):
            for ending in ("", "s", "es"):
                words.setdefault(spelled + ending, name)
    words.setdefault("oring", "o_ring")
    words.setdefault("orings", "o_ring")
    return {word: name for word, name in words.items() if name in declared.kinds}


def _donors(_declared: Declarations) -> list[Target]:
    return [
        Target("called", "what it is called", _CALLED, required=True),
        Target("materials", "what it is made of", (*_MATERIAL, "materials"), read_list),
        *(
            Target(name, f"the kinds of parts that are {said}", words, read_list)
            for name, said, words in (
                ("present", "there and good", ("has", "present", "there", "good", "parts")),
                ("unchecked", "there and not looked at", ("unchecked", "not checked", "maybe")),
                ("damaged", "damaged", ("damaged", "broken", "bad")),
                ("missing", "missing", ("missing", "lacks", "gone", "without")),
            )
        ),
        Target("note", "a note", _NOTE),
    ]


_CALLED = ("called", "pen", "name", "description", "desc", "model", "what", "donor")
_SYSTEM = ("filling system", "filler", "filling", "system", "type", "mechanism")


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


def _pens(declared: Declarations) -> list[Target]:
    readings = readable_fields(declared, None)
    return [
        Target("called", "what it is called", _CALLED, required=True),
        Target(
            "filling_system",
            "its filling system",
            _SYSTEM,
            _read_system(_system_words(declared)),
            required=True,
        ),
        Target("materials", "what it is made of", (*_MATERIAL, "materials"), read_list),
        Target("owner", "whose it is", ("owner", "whose", "customer", "client", "for")),
        Target("accessories", "what came with it", ("accessories", "came with", "with it")),
        Target("condition", "how it came", ("condition", "state", "fault", "faults")),
        Target("model_note", "your own note of its model", ("model note", "model", "family")),
        Target("cost", "what it cost", ("cost", "price", "paid", "price paid"), read_money),
        *(
            Target(
                f"readings.{name}",
                field.title or name,
                (folded(name), *_READING_WORDS.get(name, ())),
                read_length,
            )
            for name, field in readings.items()
        ),
        Target("note", "a note", _NOTE),
    ]


_READING_WORDS: Mapping[str, tuple[str, ...]] = {
    "barrel_bore": ("barrel id", "bore of barrel", "inside of barrel", "barrel inside"),
    "barrel_depth": ("barrel length", "depth of barrel"),
    "bar_height": ("bar", "j bar height", "height of bar"),
    "nipple_diameter": ("nipple", "nipple od", "nipple dia", "section nipple", "peg"),
    "rod_diameter": ("rod dia",),
}


def _jobs(declared: Declarations) -> list[Target]:
    return [
        Target("pen", "the pen: its number here, or what it is called", _CALLED, required=True),
        Target(
            "filling_system",
            "the pen's filling system, where it is not here yet",
            _SYSTEM,
            _read_system(_system_words(declared)),
        ),
        Target("owner", "whose the pen is", ("owner", "whose", "customer", "client", "for")),
        Target(
            "done_on",
            "the day on which the job was done",
            ("date", "done", "done on", "finished", "closed", "repaired", "when", "fitted on"),
            read_day,
            required=True,
        ),
        Target("part", "the number of the part that was fitted", (*_PART_WORDS, "fitted")),
        Target(
            "kind",
            "the kind of piece that was fitted",
            ("kind", "kind of part", "sort"),
            choice_reader(_kind_words(declared), "kind of part"),
        ),
        Target("label", "the size on the packet", ("label", "sac", *SIZE_IN_64THS)),
        Target(
            "quantity",
            "how many pieces were fitted",
            ("qty", "quantity", "pieces", "pcs", "how many"),
            read_pieces,
        ),
        Target(
            "outcome",
            "how it turned out",
            ("outcome", "verdict", "result", "how", "turned out", "fit"),
            choice_reader(_OUTCOMES, "outcome"),
        ),
        Target("glue", "the glue", ("glue", "sealant", "shellac")),
        Target("ink", "the ink", ("ink",)),
        Target("note", "a note", _NOTE),
    ]


def names(targets: Mapping[str, Target], wanted: Sequence[str] = ()) -> str:
    """Return names of targets for a sentence."""
    return ", ".join(wanted or targets)
