"""The published size tables, read from the plugin's data files and converted exactly.

AS568 stands in inches in its file, as published; an inch is 25.4 mm, so three decimals of an inch
are whole nanometres. The other tables are millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from sparewell.plugin import Output, OutputType, SizeTable, parse_length
from sparewell_o_rings.tolerances import rows_of

Row = Mapping[str, object]

_RING_COLUMNS: Final = (
    Output("size", OutputType.TEXT, "The size code of the standard."),
    Output("inside_diameter", OutputType.LENGTH, "Of the free ring."),
    Output("cross_section", OutputType.LENGTH, "Of the free ring."),
)
_TOLERANCE_COLUMNS: Final = (
    Output("inside_diameter_tolerance", OutputType.LENGTH, "Plus and minus."),
    Output("cross_section_tolerance", OutputType.LENGTH, "Plus and minus."),
)


def _inches(text: str) -> int:
    """Return inches as nanometres."""
    return parse_length(f"{text} in")


def _as568_rows() -> Iterator[Row]:
    """Yield the standard sizes and the sizes for tube-fitting bosses."""
    for row in rows_of("as568"):
        yield {
            "size": row["size"],
            "inside_diameter": _inches(row["inside_diameter_inch"]),
            "cross_section": _inches(row["cross_section_inch"]),
            "inside_diameter_tolerance": _inches(row["inside_diameter_tolerance_inch"]),
            "cross_section_tolerance": _inches(row["cross_section_tolerance_inch"]),
            "use": "boss" if row["size"].startswith("-9") else "general",
        }


def _millimetre_rows(name: str, *texts: str) -> Iterator[Row]:
    """Yield the rows of a file in millimetres; an empty cell is unknown."""
    for row in rows_of(name):
        yield {
            column: text
            if column == "size" or column in texts
            else (parse_length(text) if text else None)
            for column, text in row.items()
        }


AS568: Final = SizeTable(
    name="as568",
    title="AS568, inch sizes",
    source=(
        "AS568 (current revision AS568F): 349 standard sizes, each as at least three public "
        "listings print it, and 20 boss sizes (-901 to -932) as two print them; the "
        "standard's own text was not consulted"
    ),
    columns=(
        *_RING_COLUMNS,
        *_TOLERANCE_COLUMNS,
        Output("use", OutputType.TEXT, "General, or for bosses.", choices=("general", "boss")),
    ),
    rows=tuple(_as568_rows()),
)

ISO3601_1: Final = SizeTable(
    name="iso3601_1",
    title="ISO 3601-1, inch and metric series",
    source=(
        "ISO 3601-1:2012 as public listings print it; class B of the inside diameter: "
        "0.009 d^0.95 + 0.11 mm; most tolerances of the metric aerospace series rest on one "
        "listing; the standard's own text was not consulted"
    ),
    columns=(
        *_RING_COLUMNS,
        Output("inside_diameter_tolerance", OutputType.LENGTH, "Plus and minus, class A."),
        Output("cross_section_tolerance", OutputType.LENGTH, "Plus and minus, class A."),
        Output(
            "inside_diameter_tolerance_class_b",
            OutputType.LENGTH,
            "Plus and minus, class B; the aerospace series has none.",
            nullable=True,
        ),
        Output(
            "cross_section_tolerance_class_b",
            OutputType.LENGTH,
            "Plus and minus, class B; the aerospace series has none.",
            nullable=True,
        ),
        Output("series", OutputType.TEXT, "Which series.", choices=("inch", "aerospace")),
    ),
    rows=tuple(_millimetre_rows("iso3601_1", "series")),
)

JIS_B2401_P: Final = SizeTable(
    name="jis_b2401_p",
    title="JIS B 2401, P series",
    source=(
        "JIS B 2401-1:2012 and JIS B 2401-2:2012 (grooves) as public listings print them, "
        "P3 to P50; the standards' own texts were not consulted"
    ),
    columns=(
        *_RING_COLUMNS,
        *_TOLERANCE_COLUMNS,
        Output("groove_diameter", OutputType.LENGTH, "Of the standard groove on a piston."),
        Output("bore", OutputType.LENGTH, "Of the standard cylinder."),
        Output("groove_width", OutputType.LENGTH, "Of the standard groove, +0.25 / 0 mm."),
        Output("groove_diameter_tolerance", OutputType.LENGTH, "Of both diameters, one-sided."),
    ),
    rows=tuple(_millimetre_rows("jis_b2401_p")),
)

BS4518: Final = SizeTable(
    name="bs4518",
    title="BS 4518, metric sizes (partial)",
    source=(
        "BS 4518, PARTIAL: 28 of 203 sizes, from a public page; the code is the inside diameter "
        "and the section in tenths of a millimetre; no tolerance could be verified, so none is "
        "given"
    ),
    columns=(
        *_RING_COLUMNS,
        Output("inside_diameter_tolerance", OutputType.LENGTH, "Not verified.", nullable=True),
        Output("cross_section_tolerance", OutputType.LENGTH, "Not verified.", nullable=True),
    ),
    rows=tuple(
        {**row, "inside_diameter_tolerance": None, "cross_section_tolerance": None}
        for row in _millimetre_rows("bs4518")
    ),
)

SIZE_TABLES: Final = (AS568, ISO3601_1, JIS_B2401_P, BS4518)
