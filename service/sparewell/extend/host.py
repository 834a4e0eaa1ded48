"""Finding and loading plugins, and collecting what they declare.

The phases, each finished before the next begins:

1. every entry point of the group is looked at in order of its name; one that is skipped by name
   is noted and left alone;
2. its module is imported and registered with pluggy, which refuses unknown hooks and arguments;
3. each hook is read by one collecting function, which sorts by name and refuses clashes.

A plugin that cannot be loaded stops the start with its name, its distribution and the cause.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib import metadata
from types import MappingProxyType
from typing import Any, Protocol, TypeVar

import pluggy

from sparewell.extend import checks
from sparewell.extend.declarations import (
    AgeingRule,
    Calculator,
    CautionRule,
    FillingSystem,
    PartKind,
    PieceRule,
    PluginTables,
    SizeTable,
)
from sparewell.extend.fields import Setting
from sparewell.extend.hooks import PROJECT, Hooks
from sparewell.extend.reordering import ReorderPolicy, ThresholdBook

ENTRY_POINT_GROUP = "sparewell.plugins"
SKIP_VARIABLE = "SPAREWELL_SKIP_PLUGINS"
SKIPPED = "skipped"


class PluginError(Exception):
    """A plugin cannot be used; the message names it, its distribution and the cause."""


class Named(Protocol):
    """Anything a plugin declares."""

    @property
    def name(self) -> str:
        """Its name, unique among all plugins."""


Declared = TypeVar("Declared", bound=Named)


@dataclass(frozen=True)
class PluginRecord:
    """What became of one entry point."""

    name: str
    distribution: str
    version: str
    state: str  # "loaded" or "skipped"
    hooks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Declarations:
    """Everything the loaded plugins declare, by name, and which plugin declared it."""

    plugins: tuple[PluginRecord, ...] = ()
    kinds: Mapping[str, PartKind] = field(default_factory=dict)
    calculators: Mapping[str, Calculator] = field(default_factory=dict)
    filling_systems: Mapping[str, FillingSystem] = field(default_factory=dict)
    size_tables: Mapping[str, SizeTable] = field(default_factory=dict)
    ageing_rules: Mapping[str, AgeingRule] = field(default_factory=dict)
    caution_rules: Mapping[str, CautionRule] = field(default_factory=dict)
    piece_rules: Mapping[str, PieceRule] = field(default_factory=dict)
    reorder_policies: Mapping[str, ReorderPolicy] = field(default_factory=dict)
    threshold_books: Mapping[str, ThresholdBook] = field(default_factory=dict)
    tables: Mapping[str, PluginTables] = field(default_factory=dict)
    settings: Mapping[str, Setting] = field(default_factory=dict)
    provider: Mapping[str, str] = field(default_factory=dict)

    def plugin_of(self, calculator: str) -> str:
        """Return the name of the plugin that declares a calculator."""
        return self.provider[f"calculators/{calculator}"]

    @property
    def threshold_book(self) -> ThresholdBook | None:
        """Where thresholds are kept, if a plugin keeps them."""
        return next(iter(self.threshold_books.values()), None)


def installed_entry_points() -> list[metadata.EntryPoint]:
    """Return the entry points of every installed distribution, each once, sorted by name."""
    found = {
        (point.name, point.value, point.dist.name if point.dist else ""): point
        for point in metadata.entry_points(group=ENTRY_POINT_GROUP)
    }
    return [found[key] for key in sorted(found)]


def load_declarations(
    entry_points: Iterable[metadata.EntryPoint] | None = None,
    *,
    skip: frozenset[str] = frozenset(),
    core_settings: Sequence[Setting] = (),
) -> Declarations:
    """Load every plugin and return what they declare. Raises :class:`PluginError`."""
    manager = pluggy.PluginManager(PROJECT)
    manager.add_hookspecs(Hooks)
    origins: dict[str, metadata.EntryPoint] = {}
    records = []
    for point in installed_entry_points() if entry_points is None else entry_points:
        if point.name in origins:
            raise PluginError(
                f"two plugins are called {point.name!r}: one in {_origin(origins[point.name])}, "
                f"one in {_origin(point)}; remove one, or skip both with "
                f"{SKIP_VARIABLE}={point.name}"
            )
        if point.name in skip:
            records.append(_record(point, SKIPPED))
            continue
        _register(manager, point)
        origins[point.name] = point
        records.append(_record(point, "loaded", _implemented(manager, point.name)))
    return _collect(manager, origins, tuple(records), core_settings)


def _register(manager: pluggy.PluginManager, point: metadata.EntryPoint) -> None:
    """Import one plugin and hand it to pluggy; every failure names the plugin."""
    try:
        module = point.load()
        manager.register(module, name=point.name)
        manager.check_pending()
        _check_marks(module, _implemented(manager, point.name))
    except Exception as error:
        raise PluginError(
            f"plugin {point.name!r} of {_origin(point)} ({point.value}) cannot be loaded: "
            f"{type(error).__name__}: {error}. Mend it, remove it, or start with "
            f"{SKIP_VARIABLE}={point.name}"
        ) from error


def _check_marks(module: Any, implemented: tuple[str, ...]) -> None:
    """Refuse a module that forgot the mark on a hook, or that implements none."""
    for name in vars(Hooks):
        if not name.startswith("_") and hasattr(module, name) and name not in implemented:
            raise checks.DeclarationError(f"{name} is not marked with @hook")
    if not implemented:
        raise checks.DeclarationError("it implements no hook")


def _implemented(manager: pluggy.PluginManager, name: str) -> tuple[str, ...]:
    callers = manager.get_hookcallers(manager.get_plugin(name)) or []
    return tuple(sorted(caller.name for caller in callers))


def _origin(point: metadata.EntryPoint) -> str:
    return f"distribution {point.dist.name} {point.dist.version}" if point.dist else "no package"


def _record(point: metadata.EntryPoint, state: str, hooks: tuple[str, ...] = ()) -> PluginRecord:
    distribution, version = (point.dist.name, point.dist.version) if point.dist else ("", "")
    return PluginRecord(point.name, distribution, version, state, hooks)


def _collect(
    manager: pluggy.PluginManager,
    origins: Mapping[str, metadata.EntryPoint],
    records: tuple[PluginRecord, ...],
    core_settings: Sequence[Setting],
) -> Declarations:
    """Read each hook once. The checks speak of one plugin at a time, so that it can be named."""
    provider: dict[str, str] = {}

    def gather(
        hook: str, kind: type[Declared], check: Callable[[Declared], None]
    ) -> Mapping[str, Declared]:
        found: dict[str, Declared] = {}
        for implementation in getattr(manager.hook, hook).get_hookimpls():
            plugin = implementation.plugin_name
            for item in _call(plugin, hook, implementation.function, origins):
                _check_item(plugin, hook, item, kind, check, origins)
                key = f"{hook}/{item.name}"
                if item.name in found:
                    raise PluginError(
                        f"{hook} {item.name!r} is declared twice: by plugin {provider[key]!r} of "
                        f"{_origin(origins[provider[key]])} and by plugin {plugin!r} of "
                        f"{_origin(origins[plugin])}"
                    )
                found[item.name] = item
                provider[key] = plugin
        return MappingProxyType(dict(sorted(found.items())))

    declared = Declarations(
        plugins=records,
        kinds=gather("part_kinds", PartKind, checks.check_kind),
        calculators=gather("calculators", Calculator, checks.check_calculator),
        filling_systems=gather("filling_systems", FillingSystem, checks.check_filling_system),
        size_tables=gather("size_tables", SizeTable, checks.check_size_table),
        ageing_rules=gather("ageing_rules", AgeingRule, checks.check_name),
        caution_rules=gather("caution_rules", CautionRule, checks.check_name),
        piece_rules=gather("piece_rules", PieceRule, checks.check_name),
        reorder_policies=gather("reorder_policies", ReorderPolicy, checks.check_policy),
        threshold_books=gather("threshold_books", ThresholdBook, checks.check_name),
        tables=gather("tables", PluginTables, checks.check_tables),
        provider=MappingProxyType(provider),
    )
    _check_together(declared, origins)
    return replace(declared, settings=_settings(declared, origins, core_settings))


def _check_together(declared: Declarations, origins: Mapping[str, metadata.EntryPoint]) -> None:
    """Refuse references to what no loaded plugin declares, naming the plugin that makes them.

    A template may want what a skipped plugin would declare: its plans say so then.
    """
    any_skipped = any(record.state == SKIPPED for record in declared.plugins)
    faults = [
        *(
            ("calculators", *fault)
            for fault in checks.unknown_kinds(declared.calculators, declared.kinds)
        ),
        *(("calculators", *fault) for fault in checks.unlike_readings(declared.calculators)),
        *(
            ("filling_systems", *fault)
            for fault in checks.unknown_needs(
                declared.filling_systems, declared.kinds, declared.calculators
            )
            if not any_skipped
        ),
        *(
            ("tables", name, f"tables {name!r} must carry the name of their plugin")
            for name in declared.tables
            if declared.provider[f"tables/{name}"] != name
        ),
    ]
    for hook, name, fault in [*faults, *_further_books(declared, origins)]:
        plugin = declared.provider[f"{hook}/{name}"]
        raise PluginError(f"plugin {plugin!r} of {_origin(origins[plugin])}: {fault}")


def _further_books(
    declared: Declarations, origins: Mapping[str, metadata.EntryPoint]
) -> list[tuple[str, str, str]]:
    """Return a fault for each book of thresholds beside the first: a part has one threshold."""
    first, *further = [*declared.threshold_books] or [""]
    first_plugin = declared.provider.get(f"threshold_books/{first}", "")
    return [
        (
            "threshold_books",
            name,
            (
                f"it keeps thresholds in {name!r}, and plugin {first_plugin!r} of "
                f"{_origin(origins[first_plugin])} keeps them in {first!r}; a part has one "
                f"threshold, so start with {SKIP_VARIABLE} naming one of the two"
            ),
        )
        for name in further
    ]


def _call(
    plugin: str, hook: str, function: Callable[[], Any], origins: Mapping[str, metadata.EntryPoint]
) -> Sequence[Any]:
    try:
        return tuple(function())
    except Exception as error:
        raise PluginError(
            f"plugin {plugin!r} of {_origin(origins[plugin])} failed in {hook}: "
            f"{type(error).__name__}: {error}. Mend it, or start with {SKIP_VARIABLE}={plugin}"
        ) from error


def _check_item(
    plugin: str,
    hook: str,
    item: Any,
    kind: type[Declared],
    check: Callable[[Declared], None],
    origins: Mapping[str, metadata.EntryPoint],
) -> None:
    where = f"plugin {plugin!r} of {_origin(origins[plugin])}, {hook}"
    if not isinstance(item, kind):
        raise PluginError(f"{where}: expected {kind.__name__}, got {type(item).__name__}")
    try:
        check(item)
    except checks.DeclarationError as error:
        raise PluginError(f"{where}: {error}") from error


def _settings(
    declared: Declarations,
    origins: Mapping[str, metadata.EntryPoint],
    core_settings: Sequence[Setting],
) -> Mapping[str, Setting]:
    settings = {setting.name: setting for setting in core_settings}
    by = dict.fromkeys(settings, "the core")
    users: list[tuple[str, Calculator | ReorderPolicy]]
    users = [("calculators", each) for each in declared.calculators.values()]
    users += [("reorder_policies", each) for each in declared.reorder_policies.values()]
    for hook, user in users:
        plugin = declared.provider[f"{hook}/{user.name}"]
        who = f"plugin {plugin!r} of {_origin(origins[plugin])}"
        for setting in user.settings:
            if settings.setdefault(setting.name, setting) != setting:
                raise PluginError(
                    f"setting {setting.name!r} is declared twice, differently: by "
                    f"{by[setting.name]} and by {who}"
                )
            by.setdefault(setting.name, who)
    return MappingProxyType(dict(sorted(settings.items())))
