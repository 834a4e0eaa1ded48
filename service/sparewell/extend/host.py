"""Finding and loading plugins, and collecting what they declare.

The phases, each finished before the next begins:

1. every entry point of the group is looked at in order of its name; one that is skipped by name
   is noted and left alone;
2. its module is imported and registered with pluggy, which refuses unknown hooks and arguments;
3. each hook is read by one collecting function, which sorts by name and refuses clashes.

A plugin that cannot be loaded stops the start with its name, its distribution and the cause.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib import metadata
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

import pluggy

from sparewell.extend import checks
from sparewell.extend.declarations import (
    Calculator,
    FillingSystem,
    PartKind,
    PluginTables,
    SizeTable,
)
from sparewell.extend.fields import Setting
from sparewell.extend.hooks import PROJECT, Hooks
from sparewell.extend.reordering import ReorderPolicy
from sparewell.extend.rules import AgeingRule, CautionRule, PieceRule

if TYPE_CHECKING:
    from sqlalchemy import Table

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
    tables: Mapping[str, PluginTables] = field(default_factory=dict)
    settings: Mapping[str, Setting] = field(default_factory=dict)
    provider: Mapping[str, str] = field(default_factory=dict)

    def plugin_of(self, calculator: str) -> str:
        """Return the name of the plugin that declares a calculator."""
        return self.provider[f"calculators/{calculator}"]

    @property
    def threshold_table(self) -> Table | None:
        """Where thresholds are kept, if a plugin keeps them."""
        kept = (tables.thresholds for tables in self.tables.values())
        return next((table for table in kept if table is not None), None)


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
    plugins = _Plugins()
    for point in installed_entry_points() if entry_points is None else entry_points:
        plugins.take(point, is_skipped=point.name in skip)
    declared = Declarations(
        plugins=tuple(plugins.records),
        kinds=plugins.declared("part_kinds", PartKind, checks.check_kind),
        calculators=plugins.declared("calculators", Calculator, checks.check_calculator),
        filling_systems=plugins.declared(
            "filling_systems", FillingSystem, checks.check_filling_system
        ),
        size_tables=plugins.declared("size_tables", SizeTable, checks.check_size_table),
        ageing_rules=plugins.declared("ageing_rules", AgeingRule, checks.check_name),
        caution_rules=plugins.declared("caution_rules", CautionRule, checks.check_name),
        piece_rules=plugins.declared("piece_rules", PieceRule, checks.check_name),
        reorder_policies=plugins.declared("reorder_policies", ReorderPolicy, checks.check_policy),
        tables=plugins.declared("tables", PluginTables, checks.check_tables),
        provider=MappingProxyType(plugins.provider),
    )
    for hook, name, fault in _faults_together(declared):
        raise PluginError(f"{plugins.whose(hook, name)}: {fault}")
    return replace(declared, settings=_settings(declared, plugins, core_settings))


class _Plugins:
    """The plugins taken in so far; whatever is wrong with one, it is named with its distribution.

    Each hook is read once, and one plugin at a time, so that a fault is told of its plugin.
    """

    def __init__(self) -> None:
        self.records: list[PluginRecord] = []
        self.provider: dict[str, str] = {}
        self._named: dict[str, str] = {}
        self._manager = pluggy.PluginManager(PROJECT)
        self._manager.add_hookspecs(Hooks)

    def whose(self, hook: str, name: str) -> str:
        """Return the plugin of a declaration, in words."""
        return self._named[self.provider[f"{hook}/{name}"]]

    def take(self, point: metadata.EntryPoint, *, is_skipped: bool) -> None:
        """Note one plugin, and unless it is skipped import it and hand it to pluggy."""
        name, version = (point.dist.name, point.dist.version) if point.dist else ("", "")
        origin = f"distribution {name} {version}" if point.dist else "no package"
        plugin = f"plugin {point.name!r} of {origin}"
        if point.name in self._named:
            raise PluginError(
                f"two plugins are called {point.name!r}: {self._named[point.name]}, and {plugin}; "
                f"remove one, or skip both with {SKIP_VARIABLE}={point.name}"
            )
        if is_skipped:
            self.records.append(PluginRecord(point.name, name, version, SKIPPED))
            return
        try:
            hooks = self._register(point)
        except Exception as error:
            raise PluginError(
                f"{plugin} ({point.value}) cannot be loaded: {type(error).__name__}: {error}. Mend "
                f"it, remove it, or start with {SKIP_VARIABLE}={point.name}"
            ) from error
        self._named[point.name] = plugin
        self.records.append(PluginRecord(point.name, name, version, "loaded", hooks))

    def _register(self, point: metadata.EntryPoint) -> tuple[str, ...]:
        """Import a plugin and return its hooks; one that forgot a mark or has none is refused."""
        module = point.load()
        self._manager.register(module, name=point.name)
        self._manager.check_pending()
        callers = self._manager.get_hookcallers(module) or []
        hooks = tuple(sorted(caller.name for caller in callers))
        for name in vars(Hooks):
            if not name.startswith("_") and hasattr(module, name) and name not in hooks:
                raise checks.DeclarationError(f"{name} is not marked with @hook")
        if not hooks:
            raise checks.DeclarationError("it implements no hook")
        return hooks

    def declared(
        self, hook: str, kind: type[Declared], check: Callable[[Declared], None]
    ) -> Mapping[str, Declared]:
        """Return what all plugins declare by a hook, sorted by name; a name taken is refused."""
        found: dict[str, Declared] = {}
        for implementation in getattr(self._manager.hook, hook).get_hookimpls():
            plugin = implementation.plugin_name
            for item in self._returned(plugin, hook, implementation.function):
                self._check(plugin, hook, item, kind, check)
                if item.name in found:
                    raise PluginError(
                        f"{hook} {item.name!r} is declared twice: by "
                        f"{self.whose(hook, item.name)} and by {self._named[plugin]}"
                    )
                found[item.name] = item
                self.provider[f"{hook}/{item.name}"] = plugin
        return MappingProxyType(dict(sorted(found.items())))

    def _returned(self, plugin: str, hook: str, function: Callable[[], Any]) -> Sequence[Any]:
        try:
            return tuple(function())
        except Exception as error:
            raise PluginError(
                f"{self._named[plugin]} failed in {hook}: {type(error).__name__}: {error}. Mend "
                f"it, or start with {SKIP_VARIABLE}={plugin}"
            ) from error

    def _check(
        self,
        plugin: str,
        hook: str,
        item: Any,
        kind: type[Declared],
        check: Callable[[Declared], None],
    ) -> None:
        where = f"{self._named[plugin]}, {hook}"
        if not isinstance(item, kind):
            raise PluginError(f"{where}: expected {kind.__name__}, got {type(item).__name__}")
        try:
            check(item)
        except checks.DeclarationError as error:
            raise PluginError(f"{where}: {error}") from error


def _faults_together(declared: Declarations) -> Iterator[tuple[str, str, str]]:
    """Yield the hook and the name of each declaration that does not go with the others, and why.

    A template may want what a skipped plugin would declare: its plans say so then.
    """
    for name, fault in (
        *checks.unknown_kinds(declared.calculators, declared.kinds),
        *checks.unlike_readings(declared.calculators),
    ):
        yield "calculators", name, fault
    if not any(record.state == SKIPPED for record in declared.plugins):
        for name, fault in checks.unknown_needs(
            declared.filling_systems, declared.kinds, declared.calculators
        ):
            yield "filling_systems", name, fault
    for name in declared.tables:
        if declared.provider[f"tables/{name}"] != name:
            yield "tables", name, f"tables {name!r} must carry the name of their plugin"
    keepers = [name for name, tables in declared.tables.items() if tables.thresholds is not None]
    for name in keepers[1:]:
        fault = f"it keeps thresholds beside those of plugin {keepers[0]!r}: a part has one"
        yield "tables", name, f"{fault}, so start with {SKIP_VARIABLE} naming one of the two"


def _settings(
    declared: Declarations, plugins: _Plugins, core_settings: Sequence[Setting]
) -> Mapping[str, Setting]:
    """Return the settings of the core and of whatever reads one; one declared alike is shared."""
    settings = {setting.name: setting for setting in core_settings}
    by = dict.fromkeys(settings, "the core")
    users: list[tuple[str, Calculator | ReorderPolicy]]
    users = [("calculators", each) for each in declared.calculators.values()]
    users += [("reorder_policies", each) for each in declared.reorder_policies.values()]
    for hook, user in users:
        who = plugins.whose(hook, user.name)
        for setting in user.settings:
            if settings.setdefault(setting.name, setting) != setting:
                raise PluginError(
                    f"setting {setting.name!r} is declared twice, differently: by "
                    f"{by[setting.name]} and by {who}"
                )
            by.setdefault(setting.name, who)
    return MappingProxyType(dict(sorted(settings.items())))
