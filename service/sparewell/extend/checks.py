"""What a declaration must be like to be accepted; a fault is told to the plugin's author."""

from __future__ import annotations

import re
from collections.abc import Mapping

from sparewell.extend.declarations import (
    Calculator,
    FillingSystem,
    PartKind,
    PluginTables,
)
from sparewell.extend.fields import FieldType, Output, OutputType
from sparewell.measure.dimensions import DIMENSIONS, LEADING_DIMENSIONS

NAME = re.compile(r"[a-z][a-z0-9_]{0,39}", re.ASCII)
SETTING_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}\.[a-z][a-z0-9_]{0,59}", re.ASCII)


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
    if kind.led_by not in names or kind.led_by not in LEADING_DIMENSIONS:
        raise DeclarationError(
            f"kind {kind.name!r}: led_by {kind.led_by!r} must be one of its dimensions and one of "
            f"{', '.join(LEADING_DIMENSIONS)}"
        )


def check_calculator(calculator: Calculator) -> None:
    """Refuse a calculator whose parts do not belong together."""
    check_name(calculator)
    where = f"calculator {calculator.name!r}"
    for field in calculator.inputs:
        check_name(field)
        if field.type is FieldType.CHOICE and not field.choices:
            raise DeclarationError(f"{where}: input {field.name!r} has no choices")
    _check_outputs(where, calculator.outputs)
    for setting in calculator.settings:
        if not SETTING_NAME.fullmatch(setting.name):
            raise DeclarationError(f"{where}: setting {setting.name!r} must be <owner>.<name>")
        if not setting.source:
            raise DeclarationError(f"{where}: setting {setting.name!r} names no source")
    if not calculator.sources:
        raise DeclarationError(f"{where}: it names no source")
    if (calculator.envelope is None) != (calculator.judge is None):
        raise DeclarationError(f"{where}: envelope and judge come together or not at all")
    if calculator.fits_pieces and calculator.kind is None:
        raise DeclarationError(f"{where}: an envelope needs a kind")


def _check_outputs(where: str, outputs: tuple[Output, ...]) -> None:
    for output in outputs:
        check_name(output)
        if (output.type is OutputType.GROUP) != bool(output.members):
            raise DeclarationError(
                f"{where}: output {output.name!r}: a group, and only a group, has members"
            )
        _check_outputs(where, output.members)


def check_filling_system(system: FillingSystem) -> None:
    """Refuse a template that asks for nothing."""
    check_name(system)
    if not system.needs:
        raise DeclarationError(f"filling system {system.name!r} has no needs")
    if any(need.quantity < 1 for need in system.needs):
        raise DeclarationError(f"filling system {system.name!r}: a quantity is at least 1")


def check_tables(tables: PluginTables) -> None:
    """Refuse tables that do not carry the plugin's name, or a lineage that is not there."""
    check_name(tables)
    prefix = f"{tables.name}_"
    for table in tables.metadata.tables.values():
        if not table.name.startswith(prefix):
            raise DeclarationError(f"table {table.name!r} must be called {prefix}...")
    if not tables.versions.is_dir():
        raise DeclarationError(f"the revisions folder {tables.versions} does not exist")


def check_together(
    kinds: Mapping[str, PartKind],
    calculators: Mapping[str, Calculator],
    systems: Mapping[str, FillingSystem],
) -> None:
    """Refuse references to kinds, calculators and readings that no loaded plugin declares."""
    for calculator in calculators.values():
        if calculator.kind is not None and calculator.kind not in kinds:
            raise DeclarationError(
                f"calculator {calculator.name!r} is for the kind {calculator.kind!r}, which no "
                "loaded plugin declares"
            )
    for system in systems.values():
        for need in system.needs:
            if need.calculator is not None and need.calculator not in calculators:
                raise DeclarationError(
                    f"filling system {system.name!r} wants the calculator {need.calculator!r}, "
                    "which no loaded plugin declares"
                )
