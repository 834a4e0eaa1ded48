"""Spreadsheets as people keep them, built in the test: a messy one, a plain one, and a workbook."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from xml.sax.saxutils import escape

# Row numbers are those of a spreadsheet: the title is row 1.
MESSY_LOTS = (
    "Sacs and things in the cabinet;;;;;;;;\r\n"
    ";;;;;;;;\r\n"
    "Item;OD (mm);Sac size;Qty;Drawer/Box;Bought;Price;Shop;\r\n"
    "SAC-15-STR;5,9;15;12;A3;3 March 2026;8,50;fair;\r\n"
    'SAC-16-STR;"1/4""";16;4 pcs;A4;12.3.2026;4,00 €;"two\r\nlines";\r\n'
    ";;;;;;;;\r\n"
    "SAC-15-STR;15/64 in;15;2;A3;03/04/2025;;fair;\r\n"
    "SAC-17;6,7;17;a few;B9;2026-03-01;=B7*2;fair;\r\n"
    "SAC-16-STR;6.3 mm;16;5;A4;;;'=fair;\r\n"
    "Total;;;23;;;;;\r\n"
)
PLAIN_LOTS = (
    "part,drawer,quantity,measured outside diameter\nSAC-15-STR,A3,10,5.9\nSAC-15-STR,B1,4,5.95\n"
)
PARTS = (
    "Part no.,Type,Description,Size,ID (mm),Length,Material\n"
    'SAC-15-STR,Sac,"straight sac, 15",15,"5,05",75,latex\n'
    "SAC-16-STR,sacs,straight sac 16,16,5.4,75,Latex\n"
)

_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?><Types '
    'xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default '
    'Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/><Override '
    'PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.'
    'spreadsheetml.sheet.main+xml"/></Types>'
)
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"

Cell = str | int | float | None


def workbook(sheets: dict[str, Sequence[Sequence[Cell]]], **more: bytes) -> bytes:
    """Return an .xlsx file; texts stand in the cells themselves. `more` are further entries."""
    listed = "".join(
        f'<sheet name="{name}" sheetId="{number}" r:id="rId{number}"/>'
        for number, name in enumerate(sheets, 1)
    )
    relations = "".join(
        f'<Relationship Id="rId{number}" Type="{_OFFICE}/worksheet" '
        f'Target="worksheets/sheet{number}.xml"/>'
        for number in range(1, len(sheets) + 1)
    )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", _TYPES)
        archive.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{_PACKAGE}"><Relationship Id="rId1" '
            f'Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        )
        archive.writestr(
            "xl/workbook.xml",
            f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{listed}</sheets></workbook>',
        )
        archive.writestr(
            "xl/_rels/workbook.xml.rels",
            f'<Relationships xmlns="{_PACKAGE}">{relations}</Relationships>',
        )
        for number, rows in enumerate(sheets.values(), 1):
            archive.writestr(f"xl/worksheets/sheet{number}.xml", _sheet(rows))
        for name, content in more.items():
            archive.writestr(name, content)
    return file.getvalue()


def _sheet(rows: Sequence[Sequence[Cell]]) -> str:
    written = []
    for number, row in enumerate(rows, 1):
        cells = "".join(
            _cell(f"{chr(ord('A') + position)}{number}", value)
            for position, value in enumerate(row)
            if value is not None
        )
        written.append(f'<row r="{number}">{cells}</row>')
    return f'<worksheet xmlns="{_MAIN}"><sheetData>{"".join(written)}</sheetData></worksheet>'


def _cell(place: str, value: Cell) -> str:
    if isinstance(value, str):
        return f'<c r="{place}" t="inlineStr"><is><t>{escape(value)}</t></is></c>'
    return f'<c r="{place}"><v>{value}</v></c>'
