"""Workbooks of a few kilobytes that claim far more than they hold."""

from __future__ import annotations

import io
import zipfile

from support.spreadsheets import workbook

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_RELATIONS = "xl/_rels/workbook.xml.rels"
_SHARED = (
    '<Relationship Id="rId9" Target="sharedStrings.xml" Type="http://schemas.openxmlformats.org/'
    'officeDocument/2006/relationships/sharedStrings"/></Relationships>'
)


def with_rows(rows: str, shared: str = "", part: bytes | None = None) -> bytes:
    """Return a workbook whose one sheet has these rows; `shared` is its one shared text."""
    plain = workbook({"stock": [["part"]]})
    sheet = f'<worksheet xmlns="{_MAIN}"><sheetData>{rows}</sheetData></worksheet>'
    file = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(plain)) as old,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            content = old.read(name)
            if name.endswith("sheet1.xml"):
                content = part or sheet.encode()
            elif name == _RELATIONS:
                content = content.replace(b"</Relationships>", _SHARED.encode())
            new.writestr(name, content)
        new.writestr("xl/sharedStrings.xml", f'<sst xmlns="{_MAIN}"><si><t>{shared}</t></si></sst>')
    return file.getvalue()


def _cell(place: str) -> str:
    return f'<c r="{place}"><v>1</v></c>'


def hostile_workbooks() -> dict[str, bytes]:
    """Return them by what they do."""
    first = f'<row r="1">{_cell("A1")}</row>'
    return {
        "corners": with_rows(first + f'<row r="1048576">{_cell("XFD1048576")}</row>'),
        "row": with_rows(f'<row r="4294967295">{_cell("A4294967295")}</row>'),
        "row without places": with_rows('<row r="4294967295"><c><v>1</v></c></row>'),
        "column": with_rows(f'<row r="1">{_cell("ZZZZZZ1")}</row>'),
        "far down": with_rows(f'<row r="1048576">{_cell("A1048576")}</row>'),
        "rectangle": with_rows(first + f'<row r="200000">{_cell("GR200000")}</row>'),
        "shared": with_rows(
            "".join(
                f'<row r="{row}"><c r="A{row}" t="s"><v>0</v></c></row>'
                for row in range(1, 150_001)
            ),
            "y" * 9_000,
        ),
        "many cells": with_rows(f'<row r="1">{"<c/>" * 2_500_000}</row>'),
        "entities": with_rows(
            "",
            part=(
                b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "'
                + b"&a;" * 5_000
                + b'"><!ENTITY c "'
                + b"&b;" * 5_000
                + b'">]><worksheet><sheetData><row r="1"><c r="A1"><v>&c;</v></c></row>'
                + b"</sheetData></worksheet>"
            ),
        ),
    }
