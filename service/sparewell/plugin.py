"""The one public module for plugins: everything a plugin imports from Sparewell is here.

A plugin is a distribution with an entry point in the group `sparewell.plugins` that names a module.
The module implements hooks of :class:`sparewell.extend.hooks.Hooks`, each marked with :data:`hook`.
DEVELOPERS.md walks through one from start to finish.
"""

from sparewell.extend.declarations import (
    AgeingRule,
    Answer,
    Calculator,
    CautionRule,
    Envelope,
    FillingSystem,
    Given,
    ImpossibleInput,
    Judgement,
    KindDimension,
    PartKind,
    Piece,
    PluginTables,
    Purchase,
    Range,
    SizeTable,
    Step,
    TemplateNeed,
    TemplateReading,
    TemplateTest,
    Verdict,
)
from sparewell.extend.fields import (
    Field,
    FieldType,
    Inputs,
    Output,
    OutputType,
    Plain,
    Setting,
    Value,
)
from sparewell.extend.hooks import hook
from sparewell.measure.length import (
    NANOMETRES_PER_64TH,
    NANOMETRES_PER_INCH,
    NANOMETRES_PER_MILLIMETRE,
    length_in_all_units,
    length_text,
    millimetres,
    parse_length,
    sixty_fourths,
)
from sparewell.measure.made_on import MadeOn, MadeOnError, add_years, parse_made_on
from sparewell.measure.materials import BODY_MATERIALS
from sparewell.measure.wording import millimetres_text, number_text, percent_text, rounded

__all__ = [
    "BODY_MATERIALS",
    "NANOMETRES_PER_64TH",
    "NANOMETRES_PER_INCH",
    "NANOMETRES_PER_MILLIMETRE",
    "AgeingRule",
    "Answer",
    "Calculator",
    "CautionRule",
    "Envelope",
    "Field",
    "FieldType",
    "FillingSystem",
    "Given",
    "ImpossibleInput",
    "Inputs",
    "Judgement",
    "KindDimension",
    "MadeOn",
    "MadeOnError",
    "Output",
    "OutputType",
    "PartKind",
    "Piece",
    "Plain",
    "PluginTables",
    "Purchase",
    "Range",
    "Setting",
    "SizeTable",
    "Step",
    "TemplateNeed",
    "TemplateReading",
    "TemplateTest",
    "Value",
    "Verdict",
    "add_years",
    "hook",
    "length_in_all_units",
    "length_text",
    "millimetres",
    "millimetres_text",
    "number_text",
    "parse_length",
    "parse_made_on",
    "percent_text",
    "rounded",
    "sixty_fourths",
]
