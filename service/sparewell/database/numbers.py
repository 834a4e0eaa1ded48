"""The numbers people use for pens, jobs and donors: the row's own id, so that none comes twice."""

from __future__ import annotations

import re

PEN_PREFIX = "PEN"
JOB_PREFIX = "JOB"
DONOR_PREFIX = "DON"


def number_of(prefix: str, row_id: int) -> str:
    """Return the number of a row, such as PEN-0001."""
    return f"{prefix}-{row_id:04d}"


def id_of(prefix: str, number: str) -> int:
    """Return the row id behind a number; 0, which no row has, for anything else."""
    match = re.fullmatch(rf"{prefix}-([0-9]{{4,18}})", number, re.ASCII)
    row_id = int(match.group(1)) if match else 0
    return row_id if number_of(prefix, row_id) == number else 0
