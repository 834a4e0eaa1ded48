"""The hook specifications, which `sparewell.extend.host` reads.

Each hook is called once, when the service is put together, with no arguments. Its results are
sorted by name; two plugins that declare the same name stop the start, and both are named. A hook
that raises stops the start too, unless `SPAREWELL_SKIP_PLUGINS` names its plugin.
"""

from __future__ import annotations

from collections.abc import Sequence

import pluggy

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
from sparewell.extend.reordering import ReorderPolicy, ThresholdBook

PROJECT = "sparewell"

hook = pluggy.HookimplMarker(PROJECT)
_specification = pluggy.HookspecMarker(PROJECT)


class Hooks:
    """Every hook that a plugin may implement; all are optional."""

    @_specification
    def part_kinds(self) -> Sequence[PartKind]:
        """Return the kinds of part this plugin brings into the catalogue."""
        raise AssertionError("a specification is never called")

    @_specification
    def calculators(self) -> Sequence[Calculator]:
        """Return sizing rules; each gets an endpoint, an OpenAPI entry and a command."""
        raise AssertionError("a specification is never called")

    @_specification
    def filling_systems(self) -> Sequence[FillingSystem]:
        """Return templates of repairs; a job copies the one of its pen when it is opened."""
        raise AssertionError("a specification is never called")

    @_specification
    def size_tables(self) -> Sequence[SizeTable]:
        """Return published tables of sizes; each is served under `/v1/size-tables/`."""
        raise AssertionError("a specification is never called")

    @_specification
    def ageing_rules(self) -> Sequence[AgeingRule]:
        """Return how long materials keep; the rule of the chosen scheme dates each lot."""
        raise AssertionError("a specification is never called")

    @_specification
    def caution_rules(self) -> Sequence[CautionRule]:
        """Return cautions; the plan of a job shows those its pen and its steps call for."""
        raise AssertionError("a specification is never called")

    @_specification
    def piece_rules(self) -> Sequence[PieceRule]:
        """Return what pieces of one material do to pens of others; every fit judges by them."""
        raise AssertionError("a specification is never called")

    @_specification
    def reorder_policies(self) -> Sequence[ReorderPolicy]:
        """Return rules that say when a part is to be ordered."""
        raise AssertionError("a specification is never called")

    @_specification
    def threshold_books(self) -> Sequence[ThresholdBook]:
        """Return where thresholds are kept; only one such book may be loaded."""
        raise AssertionError("a specification is never called")

    @_specification
    def tables(self) -> Sequence[PluginTables]:
        """Return the tables this plugin owns; `sparewell migrate` brings them up after the core."""
        raise AssertionError("a specification is never called")
