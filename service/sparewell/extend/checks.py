"""What a declaration must be like to be accepted; a fault is told to the plugin's author."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from sparewell.extend import templates
from sparewell.extend.declarations import (
    NAME,
    THRESHOLD_COLUMNS,
    Calculator,
    FillingSystem,
    PartKind,
    PluginTables,
    SizeTable,
)
from sparewell.extend.fields import Field, FieldType, Output, OutputType, Setting
from sparewell.extend.reordering import ReorderPolicy
from sparewell.measure.dimensions import DIMENSIONS, LEADING_DIMENSIONS

if TYPE_CHECKING:
    from sqlalchemy import Table

SETTING_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}\.[a-z][a-z0-9_]{0,59}", re.ASCII)

# What a request for pieces in hand takes beside the inputs, and who owns the core's tables.
RESERVED_INPUTS = frozenset({"materials", "limit"})
CORE = "core"


class DeclarationError(Exception):
    """A declaration breaks a rule; the sentence says which."""


def check_name(item: object) -> None:
    """Refuse a name that could not stand in an address, an option and a JSON member."""
    name = getattr(item, "name", "")
    if not NAME.fullmatch(name):
        raise DeclarationError(
            f"{name!r} is not a name: small letters, digits and underscores, a letter first"
        )


def check_kind(kind: PartKind) -> None:
    """Refuse a kind with dimensions outside the shared vocabulary or without an index."""
    check_name(kind)
    names = [dimension.name for dimension in kind.dimensions]
    for name in names:
        if name not in DIMENSIONS:
            raise DeclarationError(
                f"kind {kind.name!r}: {name!r} is not a dimension; they are {', '.join(DIMENSIONS)}"
            )
    _refuse_twice(f"kind {kind.name!r}", "dimension", names)
    for dimension in kind.dimensions:
        _check_bounds(f"kind {kind.name!r}: {dimension.name}", dimension.plausible)
    _refuse_twice(f"kind {kind.name!r}", "attribute", [each.name for each in kind.attributes])
    for attribute in kind.attributes:
        _check_input(f"kind {kind.name!r}", attribute, fits_pieces=False)
    if kind.led_by not in names or kind.led_by not in LEADING_DIMENSIONS:
        raise DeclarationError(
            f"kind {kind.name!r}: led_by {kind.led_by!r} must be one of its dimensions and one of "
            f"{', '.join(LEADING_DIMENSIONS)}"
        )


def check_calculator(calculator: Calculator) -> None:
    """Refuse a calculator whose parts do not belong together."""
    check_name(calculator)
    where = f"calculator {calculator.name!r}"
    _refuse_twice(where, "input", [field.name for field in calculator.inputs])
    for field in calculator.inputs:
        _check_input(where, field, fits_pieces=calculator.fits_pieces)
    _check_outputs(where, calculator.outputs)
    for name in set(calculator.asks_first) - {field.name for field in calculator.inputs}:
        raise DeclarationError(f"{where}: it asks first for {name!r}, which is none of its inputs")
    for headline in calculator.headline:
        _check_headline(where, headline, calculator.outputs)
    if calculator.quantity:
        _check_headline(where, calculator.quantity, calculator.outputs)
    _check_settings(where, calculator.settings)
    _check_scales(where, calculator)
    if not calculator.sources:
        raise DeclarationError(f"{where}: it names no source")
    if (calculator.envelope is None) != (calculator.judge is None):
        raise DeclarationError(f"{where}: envelope and judge come together or not at all")
    if calculator.fits_pieces and calculator.kind is None:
        raise DeclarationError(f"{where}: an envelope needs a kind")


def _check_scales(where: str, calculator: Calculator) -> None:
    """Refuse a scale of margins that rests on settings or inputs which the calculator has not."""
    settings = {setting.name: setting.type for setting in calculator.settings}
    inputs = {field.name for field in calculator.inputs}
    for scale in calculator.scales:
        of_scale = f"{where}: the scale of {scale.margin!r}"
        for name in (*scale.marks, *scale.while_set):
            if name not in settings:
                raise DeclarationError(f"{of_scale} names {name!r}, which is none of its settings")
        for name in scale.marks:
            if settings[name] not in (FieldType.NUMBER, FieldType.LENGTH):
                raise DeclarationError(f"{of_scale} ends a band at {name!r}, which is no number")
        ends = [name for name in (scale.low, scale.high) if name is not None]
        if not ends or not set(ends) <= set(scale.marks):
            raise DeclarationError(f"{of_scale} must name its low or high end among its marks")
        for name in scale.given.keys() - inputs:
            raise DeclarationError(f"{of_scale} is given {name!r}, which is none of its inputs")


def _check_settings(where: str, settings: Sequence[Setting]) -> None:
    for setting in settings:
        if not SETTING_NAME.fullmatch(setting.name):
            raise DeclarationError(f"{where}: setting {setting.name!r} must be <owner>.<name>")
        if not setting.source:
            raise DeclarationError(f"{where}: setting {setting.name!r} names no source")
        _check_default(where, setting)


def check_policy(policy: ReorderPolicy) -> None:
    """Refuse a reorder policy whose parts do not belong together."""
    check_name(policy)
    where = f"reorder policy {policy.name!r}"
    names = [field.name for field in policy.parameters]
    _refuse_twice(where, "parameter", names)
    if policy.asks_first and policy.asks_first not in names:
        raise DeclarationError(f"{where}: it asks first for {policy.asks_first!r}, which it lacks")
    for field in policy.parameters:
        _check_input(where, field, fits_pieces=False)
    _check_settings(where, policy.settings)
    if not policy.sources:
        raise DeclarationError(f"{where}: it names no source")


def _check_headline(where: str, headline: str, outputs: Sequence[Output]) -> None:
    """Refuse a headline that no answer could have."""
    present: Sequence[Output] = outputs
    for step in headline.split("."):
        found = next((output for output in present if output.name == step), None)
        if found is None:
            raise DeclarationError(f"{where}: headline {headline!r} is none of its outputs")
        present = found.members
    if present:
        raise DeclarationError(f"{where}: headline {headline!r} is a group; name a member of it")


def _check_input(where: str, field: Field, *, fits_pieces: bool) -> None:
    check_name(field)
    _check_bounds(f"{where}: {field.name}", field.plausible)
    if fits_pieces and field.name in RESERVED_INPUTS:
        raise DeclarationError(
            f"{where}: an input may not be called {field.name!r}: a fit takes that itself"
        )
    if field.type is FieldType.CHOICE and not field.choices:
        raise DeclarationError(f"{where}: input {field.name!r} has no choices")
    if (field.type is FieldType.GROUP) != bool(field.members):
        raise DeclarationError(
            f"{where}: input {field.name!r}: a group, and only a group, has members"
        )
    for member in field.members:
        _check_input(f"{where}: {field.name}", member, fits_pieces=False)


def _check_default(where: str, setting: Setting) -> None:
    """Refuse a default that the setting itself would not take."""
    default = setting.default
    if default is None:
        is_right = setting.nullable
    elif isinstance(default, bool) or setting.type is FieldType.FLAG:
        is_right = isinstance(default, bool) and setting.type is FieldType.FLAG
    elif setting.type is FieldType.NUMBER:
        is_right = isinstance(default, Decimal)
    elif setting.type in (FieldType.LENGTH, FieldType.INTEGER):
        is_right = isinstance(default, int)
    elif setting.type is FieldType.LENGTHS:
        is_right = isinstance(default, tuple)
    else:
        is_right = isinstance(default, str) and (not setting.choices or default in setting.choices)
    if is_right and isinstance(default, int | Decimal):
        is_right = (setting.minimum is None or default >= setting.minimum) and (
            setting.maximum is None or default <= setting.maximum
        )
    if not is_right:
        raise DeclarationError(
            f"{where}: setting {setting.name!r} cannot have the default {default!r}"
        )


def _refuse_twice(where: str, what: str, names: Sequence[str]) -> None:
    seen = set()
    for name in names:
        if name in seen:
            raise DeclarationError(f"{where}: the {what} {name!r} stands twice")
        seen.add(name)


def _check_bounds(where: str, plausible: tuple[int, int] | None) -> None:
    if plausible is not None and not 0 <= plausible[0] < plausible[1]:
        raise DeclarationError(f"{where}: the bounds of the usual are crossed")


def _check_outputs(where: str, outputs: tuple[Output, ...]) -> None:
    _refuse_twice(where, "output", [output.name for output in outputs])
    for output in outputs:
        check_name(output)
        if (output.type is OutputType.GROUP) != bool(output.members):
            raise DeclarationError(
                f"{where}: output {output.name!r}: a group, and only a group, has members"
            )
        _check_outputs(where, output.members)


def check_filling_system(system: FillingSystem) -> None:
    """Refuse a template that contradicts itself; what it names is looked for when all is loaded."""
    check_name(system)
    for _, sentence in templates.faults_inside(system):
        raise DeclarationError(f"filling system {system.name!r}: {sentence}")


def check_size_table(table: SizeTable) -> None:
    """Refuse a table without a source, whose rows lack a size, or whose sizes stand twice."""
    check_name(table)
    where = f"size table {table.name!r}"
    if not table.source:
        raise DeclarationError(f"{where} names no source")
    _check_outputs(where, table.columns)
    if not table.columns or table.columns[0].name != "size":
        raise DeclarationError(f"{where}: its first column must be the size")
    _refuse_twice(where, "size", [str(row.get("size")) for row in table.rows])


def check_tables(tables: PluginTables) -> None:
    """Refuse tables that do not carry the plugin's name, or a lineage that is not there."""
    check_name(tables)
    if tables.name == CORE:
        raise DeclarationError(f"{CORE!r} is the core's own name for its tables")
    prefix = f"{tables.name}_"
    for table in tables.metadata.tables.values():
        if not table.name.startswith(prefix):
            raise DeclarationError(f"table {table.name!r} must be called {prefix}...")
    if tables.thresholds is not None:
        _check_thresholds(tables.thresholds, tables)
    if not tables.versions.is_dir():
        raise DeclarationError(f"the revisions folder {tables.versions} does not exist")


def _check_thresholds(thresholds: Table, tables: PluginTables) -> None:
    if thresholds not in tables.metadata.tables.values():
        raise DeclarationError(f"table {thresholds.name!r} is not among the plugin's tables")
    lacking = [name for name in THRESHOLD_COLUMNS if name not in thresholds.columns]
    if lacking:
        raise DeclarationError(f"table {thresholds.name!r} lacks {', '.join(lacking)}")


def unknown_kinds(
    calculators: Mapping[str, Calculator], kinds: Mapping[str, PartKind]
) -> Iterator[tuple[str, str]]:
    """Yield each calculator for a kind that no loaded plugin declares, with the sentence."""
    for name, calculator in calculators.items():
        if calculator.kind is not None and calculator.kind not in kinds:
            kind = calculator.kind
            yield name, f"calculator {name!r} is for {kind!r}, a kind no loaded plugin declares"


def unknown_needs(
    systems: Mapping[str, FillingSystem],
    kinds: Mapping[str, PartKind],
    calculators: Mapping[str, Calculator],
) -> Iterator[tuple[str, str]]:
    """Yield each filling system that names what no loaded plugin declares, with the sentence."""
    for name, system in systems.items():
        for _, sentence in templates.faults_outside(system, kinds, calculators):
            yield name, f"{name!r} {sentence}"


def unlike_readings(calculators: Mapping[str, Calculator]) -> Iterator[tuple[str, str]]:
    """Yield each calculator that takes a reading of the name but not the type of another's."""
    types: dict[str, tuple[FieldType, str]] = {}
    for name, calculator in calculators.items():
        for field in calculator.inputs:
            if not field.measured:
                continue
            kept, other = types.setdefault(field.name, (field.type, name))
            if kept is not field.type:
                yield (
                    name,
                    f"{name!r} reads {field.name!r} as a {field.type}, {other!r} as a {kept}",
                )
