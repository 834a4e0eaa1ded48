"""The hooks that a plugin may implement, each with a whole example.

A hook is a function of the module that the plugin's entry point names, marked with `hook`. The
service calls each once, when it is put together, with no arguments, and gathers what all plugins
return: sorted by name, whatever the order in which plugins are found. All hooks are optional.

Three things stop the start, and the plugin is named: two plugins declare the same name, a
declaration breaks a rule, or a hook raises. `SPAREWELL_SKIP_PLUGINS` leaves a plugin out.

The examples make up one plugin, called `bungs`, for corks that close a hole. Its module begins::

    from pathlib import Path

    from sqlalchemy import BigInteger, Column, MetaData, String, Table

    from sparewell.plugin import *
"""

from __future__ import annotations

from collections.abc import Sequence

import pluggy

from sparewell.extend.declarations import (
    Calculator,
    FillingSystem,
    PartKind,
    PluginTables,
    SizeTable,
)
from sparewell.extend.reordering import ReorderPolicy
from sparewell.extend.rules import AgeingRule, CautionRule, PieceRule

PROJECT = "sparewell"

hook = pluggy.HookimplMarker(PROJECT)
_specification = pluggy.HookspecMarker(PROJECT)


class Hooks:
    """Every hook that a plugin may implement."""

    @_specification
    def part_kinds(self) -> Sequence[PartKind]:
        """Return the kinds of part that this plugin brings into the catalogue.

        Parts, lots and the search for pieces in hand know a kind from then on. Its dimensions are
        names out of the shared vocabulary; `led_by` is the one that pieces are looked up by::

            BUNG = PartKind(
                name="bung",
                title="bung",
                dimensions=(KindDimension("outside_diameter"), KindDimension("length")),
                led_by="outside_diameter",
                materials=("cork", "nbr"),
            )

            @hook
            def part_kinds():
                return (BUNG,)
        """
        return ()

    @_specification
    def calculators(self) -> Sequence[Calculator]:
        """Return sizing rules; each gets an endpoint, an OpenAPI entry, a command and a page.

        `compute` is called for each question, with inputs that were checked against the fields.
        With `envelope` and `judge` the calculator also chooses among the pieces in hand. `judge` is
        asked once for pieces that are alike in everything: some hundreds of times for twenty that
        are shown. So what follows from the inputs alone is `worked_out_once`, and `why` may be a
        function, which writes the sentence of a piece that is shown. One that raises answers 502
        for itself alone::

            OVER = length_setting("bung.over", "how much wider than its hole a bung is", "0.2 mm")
            HOLE = Field(
                "hole",
                "hole",
                help="The hole that the bung closes.",
                required=True,
                measured=True,
                how="With a pin gauge, at the mouth.",
            )

            @worked_out_once
            def wanted_nanometres(inputs):
                return inputs.length("hole") + inputs.setting_length(OVER.name)

            def compute(inputs):
                wanted = wanted_nanometres(inputs)
                if wanted > 20_000_000:
                    raise ImpossibleInput(("hole", "No pen has a hole of 2 cm."))
                return Answer({"outside_diameter": wanted})

            def envelope(inputs):
                wanted = wanted_nanometres(inputs)
                box = {"outside_diameter": Range(wanted - 100_000, wanted + 100_000)}
                return Envelope("bung", ideal=wanted, ranges=box)

            def judge(inputs, piece):
                over = piece.dimensions["outside_diameter"] - inputs.length("hole")
                if over <= 0:
                    return Judgement(Verdict.REFUSED, "it falls through the hole")
                return Judgement(Verdict.FITS, lambda: f"{length_text(over)} wider than the hole")

            @hook
            def calculators():
                return (
                    Calculator(
                        name="bung",
                        title="Bung",
                        help="Which bung closes a hole.",
                        inputs=(HOLE,),
                        outputs=(Output("outside_diameter", OutputType.LENGTH, "Before fitting."),),
                        headline=("outside_diameter",),
                        compute=compute,
                        settings=(OVER,),
                        sources=(COMMON_PRACTICE,),
                        kind="bung",
                        envelope=envelope,
                        judge=judge,
                    ),
                )
        """
        return ()

    @_specification
    def filling_systems(self) -> Sequence[FillingSystem]:
        """Return templates of repairs; a job copies the one of its pen when it is opened.

        Each need names a kind, and the calculator that sizes it; the readings are those that the
        calculators take, so their words need not be said again::

            CORKED = FillingSystem(
                name="corked",
                title="filled through a corked hole",
                needs=(TemplateNeed("bung", "in the hole of the tail", calculator="bung"),),
                readings=(TemplateReading("hole", instrument="pin gauge"),),
                consumables=("silicone grease",),
                steps=(Step("soak", "water", "until the old bung lets go"), Step("fit")),
                tests=(
                    TemplateTest(
                        "leak_test",
                        how="Fill it with water and lay it on paper for an hour.",
                        passes="The paper stays dry.",
                    ),
                ),
                sources=(COMMON_PRACTICE,),
            )

            @hook
            def filling_systems():
                return (CORKED,)
        """
        return ()

    @_specification
    def size_tables(self) -> Sequence[SizeTable]:
        """Return published tables of sizes; each is served under `/v1/size-tables/`.

        The first column is the `size`, as it is printed; lengths are nanometres::

            @hook
            def size_tables():
                return (
                    SizeTable(
                        name="bungs",
                        title="Bungs",
                        source="a maker's leaflet, made up",
                        columns=(
                            Output("size", OutputType.TEXT, "As it is printed."),
                            Output("outside_diameter", OutputType.LENGTH, "At the thick end."),
                        ),
                        rows=(
                            {"size": "0", "outside_diameter": parse_length("3 mm")},
                            {"size": "1", "outside_diameter": parse_length("1/8 in")},
                        ),
                    ),
                )
        """
        return ()

    @_specification
    def ageing_rules(self) -> Sequence[AgeingRule]:
        """Return how long materials keep; the rule of the workshop's scheme dates each lot.

        A rule is called `<scheme>_<material>`; its years count from making::

            @hook
            def ageing_rules():
                cork = AgeingRule("workshop_cork", "workshop", "cork", 20, COMMON_PRACTICE)
                return (cork,)
        """
        return ()

    @_specification
    def caution_rules(self) -> Sequence[CautionRule]:
        """Return cautions; the plan of a job shows those that its pen and its steps call for.

        What a rule does not name (material, step, substance) may be anything::

            @hook
            def caution_rules():
                return (
                    CautionRule(
                        "bung_flies",
                        "A bung under pressure flies out: eye protection.",
                        COMMON_PRACTICE,
                        step="soak",
                    ),
                )
        """
        return ()

    @_specification
    def piece_rules(self) -> Sequence[PieceRule]:
        """Return what pieces of one material do to pens of others; every fit judges by them.

        A rule that `refuses` takes a piece out of every choice; any other is said beside it::

            @hook
            def piece_rules():
                return (
                    PieceRule(
                        "cork_in_casein",
                        "cork holds water, and casein swells in it",
                        COMMON_PRACTICE,
                        piece="cork",
                        pens=("casein",),
                        refuses=True,
                    ),
                )
        """
        return ()

    @_specification
    def reorder_policies(self) -> Sequence[ReorderPolicy]:
        """Return rules that say when a part is to be ordered.

        `decide` is asked for each part, with how it was wanted, and with the parameters that the
        workshop chose for it. The part is due at the reorder point, and filled up above it::

            def decide(demand, inputs):
                least = int(inputs.number("least") or 2)
                return Decision(least, least + 10, f"{least} are kept, ten more are ordered")

            @hook
            def reorder_policies():
                return (
                    ReorderPolicy(
                        name="ten_more",
                        title="Ten more",
                        help="Ten above a fixed number.",
                        parameters=(Field("least", "At least", FieldType.INTEGER, minimum=0),),
                        decide=decide,
                        sources=(COMMON_PRACTICE,),
                    ),
                )
        """
        return ()

    @_specification
    def tables(self) -> Sequence[PluginTables]:
        """Return the tables this plugin owns; `sparewell migrate` brings them up after the core's.

        They carry the plugin's name, and their Alembic revisions lie in a folder of the plugin::

            METADATA = MetaData()
            Table(
                "bungs_seen",
                METADATA,
                Column("id", BigInteger, primary_key=True),
                Column("where", String(200), nullable=False),
            )

            @hook
            def tables():
                return (PluginTables("bungs", METADATA, Path(__file__).parent / "versions"),)
        """
        return ()
