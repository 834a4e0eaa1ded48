"""The process in which a workbook is opened; `apart` starts it, and says what passes between."""

from __future__ import annotations

import json
import resource
import sys

from sparewell.errors import Impossible
from sparewell.imports.workbook import read_workbook

MEMORY_BYTES = 768 * 1024 * 1024
PROCESSOR_SECONDS = 20


def main() -> None:
    """Read the file on standard input and write its rows, within the limits."""
    for what, most in (
        (resource.RLIMIT_AS, MEMORY_BYTES),
        (resource.RLIMIT_CPU, PROCESSOR_SECONDS),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, 0),
    ):
        _, hard = resource.getrlimit(what)
        limit = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (limit, limit))
    sheet = sys.argv[1] if len(sys.argv) > 1 else None
    try:
        rows, notices = read_workbook(sys.stdin.buffer.read(), sheet)
    except Impossible as refusal:
        (problem,) = refusal.problems
        _say({"problem": [problem.pointer, problem.detail]})
        return
    _say({"notices": notices, "rows": len(rows)})
    for row in rows:
        _say(row)


def _say(what: object) -> None:
    sys.stdout.write(json.dumps(what) + "\n")


if __name__ == "__main__":
    main()
