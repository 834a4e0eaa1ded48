"""What can be done with kinds and parts. Takes a unit of work, never commits, knows no HTTP."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.catalogue.tables import DimensionColumns, Part, column_of
from sparewell.edge.description import NewThing
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.extend.declarations import KindDimension, PartKind
from sparewell.extend.host import Declarations
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.entered import EnteredLength
from sparewell.measure.length import length_text, likely_slip
from sparewell.work import Work

UNKNOWN_MATERIAL = "unknown"


@dataclass(frozen=True)
class NewPart(NewThing):
    """What a new catalogue entry says."""

    number: str
    kind: str
    name: str | None = None
    material: str | None = None
    counted_by: str | None = None
    note: str = ""
    dimensions: Mapping[str, EnteredLength] = field(default_factory=dict)


def kind_named(declared: Declarations, name: str, pointer: str = "/kind") -> PartKind:
    """Return a kind. Raises :class:`Impossible` naming the ones there are."""
    kind = declared.kinds.get(name)
    if kind is None:
        raise Impossible.at(
            pointer, f"there is no kind {name!r}; there are {', '.join(declared.kinds)}"
        )
    return kind


def find_part(session: Session, number: str) -> Part:
    """Return a part by its number. Raises :class:`NotFound`."""
    part = session.scalar(select(Part).where(Part.number == number))
    if part is None:
        raise NotFound(f"there is no part {number!r}")
    return part


def create_part(work: Work, new: NewPart) -> Part:
    """Add a part to the catalogue. Raises :class:`Impossible` and :class:`Conflict`."""
    part = described_part(work, new)
    if work.session.scalar(select(Part.id).where(Part.number == new.number)) is not None:
        raise Conflict(
            f"there is already a part {new.number!r}",
            [Problem("/number", "taken; choose another number")],
        )
    work.session.add(part)
    work.session.flush()
    return part


def described_part(work: Work, new: NewPart) -> Part:
    """Return a part as it is described, in no catalogue yet. Raises :class:`Impossible`."""
    kind = kind_named(work.declared, new.kind)
    if new.counted_by is not None and new.counted_by not in kind.counted_by:
        raise Impossible.at(
            "/counted_by", f"a {kind.title} is counted by {' or '.join(kind.counted_by)}"
        )
    lengths = checked_dimensions(kind, new.dimensions, "/dimensions")
    part = Part(
        number=new.number,
        kind=kind.name,
        name=new.name or new.number,
        material=known_material(kind, new.material),
        counted_by=new.counted_by or kind.counted_by[0],
        note=new.note,
        created_at=work.now,
        **new.plain,
    )
    set_dimensions(part, lengths)
    return part


def change_part(work: Work, part: Part, changes: Mapping[str, object]) -> Part:
    """Change what a part says; `changes` holds checked members of the same names.

    Dimensions are merged: a null takes one away. The lots that rest on a nominal dimension
    follow through :func:`sparewell.lots.operations.follow_part`.
    """
    for name in changes.keys() - {"material", "dimensions"}:
        setattr(part, name, changes[name])
    declared = work.declared.kinds.get(part.kind)
    if "material" in changes:
        material = changes["material"]
        if material is not None and declared is not None:
            material = known_material(declared, str(material))
        part.material = material  # type: ignore[assignment]
    dimensions = changes.get("dimensions")
    if isinstance(dimensions, Mapping):
        kind = kind_named(work.declared, part.kind)
        merged = {name: EnteredLength(value, "") for name, value in part.dimensions.items()}
        for name, length in dimensions.items():
            if length is None:
                merged.pop(name, None)
            else:
                merged[name] = length
        set_dimensions(part, checked_dimensions(kind, merged, "/dimensions"))
    work.session.flush()
    return part


@dataclass(frozen=True)
class ShownPart:
    """A part, and what is said against it."""

    row: Part
    warnings: list[str]


def shown_part(work: Work, part: Part) -> ShownPart:
    """Return a part as it is shown."""
    kind = work.declared.kinds.get(part.kind)
    doubts = improbable_dimensions(kind, part.dimensions)
    return ShownPart(part, [*doubts, *unfamiliar_material(kind, part.material)])


@dataclass(frozen=True)
class ShownDimension:
    """A dimension of a kind, and the bounds of the usual."""

    row: KindDimension

    @property
    def title(self) -> str:
        """What it is called."""
        return DIMENSIONS[self.row.name]

    @property
    def usual_min(self) -> int | None:
        """The least that is usual."""
        return self.row.plausible[0] if self.row.plausible else None

    @property
    def usual_max(self) -> int | None:
        """The most that is usual."""
        return self.row.plausible[1] if self.row.plausible else None


@dataclass(frozen=True)
class ShownKind:
    """A kind of part, its dimensions, and which plugin it comes from."""

    row: PartKind
    dimensions: Sequence[ShownDimension]
    plugin: str


def shown_kind(declared: Declarations, kind: PartKind) -> ShownKind:
    """Return a kind as it is shown."""
    plugin = declared.provider[f"part_kinds/{kind.name}"]
    return ShownKind(kind, [ShownDimension(each) for each in kind.dimensions], plugin)


def known_material(kind: PartKind, text: str | None) -> str | None:
    """Return a material as the kind spells it; another text stands as it is, unknown as None."""
    if text is None or text.lower() == UNKNOWN_MATERIAL:
        return None
    spelled = {material.lower(): material for material in kind.materials}
    return spelled.get(text.lower(), text)


def checked_dimensions(
    kind: PartKind, lengths: Mapping[str, EnteredLength], pointer: str
) -> dict[str, int]:
    """Return dimensions in nanometres. Raises :class:`Impossible` where they cannot be true."""
    allowed = {dimension.name for dimension in kind.dimensions}
    problems = [
        Problem(
            f"{pointer}/{name}",
            f"a {kind.title} has no {name}; it has "
            f"{', '.join(dimension.name for dimension in kind.dimensions)}",
        )
        for name in lengths
        if name not in allowed
    ]
    if problems:
        raise Impossible(problems[0].detail, problems)
    found = {name: length.nanometres for name, length in lengths.items()}
    refuse_contradictions(found, pointer)
    return found


def refuse_contradictions(dimensions: Mapping[str, int], pointer: str) -> None:
    """Refuse dimensions that cannot be true together. Raises :class:`Impossible`."""
    fault = contradiction(dimensions)
    if fault is not None:
        raise Impossible.at(f"{pointer}/{fault[0]}", fault[1])


def contradiction(dimensions: Mapping[str, int]) -> tuple[str, str] | None:
    """Return the dimension that does not go into the outside diameter, and the sentence."""
    outside = dimensions.get("outside_diameter")
    if outside is None:
        return None
    for name, times in (("inside_diameter", 1), ("wire_diameter", 2), ("cross_section", 2)):
        value = dimensions.get(name)
        if value is not None and times * value >= outside:
            twice = "twice " if times == 2 else ""  # noqa: PLR2004 - the word for the number
            return name, (
                f"a {DIMENSIONS[name]} of {length_text(value)} does not go {twice}into an "
                f"outside diameter of {length_text(outside)}"
            )
    return None


def set_dimensions(row: DimensionColumns, dimensions: Mapping[str, int]) -> None:
    """Write dimensions into the columns of a part or a lot; what is not named becomes empty."""
    for name in DIMENSIONS:
        setattr(row, column_of(name), dimensions.get(name))


def improbable_dimensions(kind: PartKind | None, dimensions: Mapping[str, int]) -> list[str]:
    """Return a warning for each dimension outside the usual; they never block."""
    if kind is None:
        return []
    found = []
    for dimension in kind.dimensions:
        value = dimensions.get(dimension.name)
        if value is None or dimension.plausible is None:
            continue
        warning = likely_slip(value, *dimension.plausible, name=dimension.name.replace("_", " "))
        if warning is not None:
            found.append(warning)
    return found


def unfamiliar_material(kind: PartKind | None, material: str | None) -> list[str]:
    """Return a warning for a material that the kind does not name."""
    if kind is None or material is None or not kind.materials or material in kind.materials:
        return []
    return [
        (
            f"the material {material!r} is not one of {', '.join(kind.materials)}: it stands as "
            "you wrote it, and counts as unknown"
        )
    ]
