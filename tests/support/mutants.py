"""Seeded faults: whether the quick tests notice what all tests notice.

    PYTHONPATH=tests python -m support.mutants --faults 200

Small changes are made to the code at random, one at a time and in a copy: a comparison turned, a
sum made a difference, a number one too high, a condition taken the other way. The copy is of the
last commit. Coverage says which tests run the changed line; those of the quick part are run first,
then the others. A line that only other processes run has no tests here and counts as not noticed.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

ROOT = Path(__file__).parents[2]
SOURCE_ROOTS = ("service", "plugins")
SHARE_WANTED = 0.95
PATIENCE_SECONDS = 600
MOST_TESTS = 400
TURNED: Mapping[type[ast.AST], str] = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==",
    ast.Is: "is not", ast.IsNot: "is", ast.In: "not in", ast.NotIn: "in",
    ast.Add: "-", ast.Sub: "+", ast.Mult: "+", ast.FloorDiv: "*", ast.And: "or", ast.Or: "and",
}  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """A change of one place: the file, the line, what stood there and what stands there now."""

    file: str
    line: int
    start: int
    end: int
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}  {self.before!r} -> {self.after!r}"


class Place(Protocol):
    """Where an expression begins in the bytes of a file, or ends."""

    def __call__(self, node: ast.expr, *, at_end: bool = False) -> int:
        """Return the position."""


def faults_of(file: Path) -> Iterator[Fault]:
    """Yield every change that can be made to a file, outside declarations at its top level."""
    text = file.read_text()
    starts = [0]
    for line in text.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    name = file.relative_to(ROOT).as_posix()

    def place(node: ast.expr, *, at_end: bool = False) -> int:
        line, column = (
            (node.end_lineno, node.end_col_offset) if at_end else (node.lineno, node.col_offset)
        )
        return starts[(line or 1) - 1] + (column or 0)

    for function in ast.walk(ast.parse(text)):
        if not isinstance(function, ast.FunctionDef):
            continue
        for node in (inner for statement in function.body for inner in ast.walk(statement)):
            yield from _faults_at(node, name, text.encode(), place)


def _faults_at(node: ast.AST, name: str, text: bytes, place: Place) -> Iterator[Fault]:
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        pair, operator = (node.left, node.comparators[0]), node.ops[0]
    elif isinstance(node, ast.BinOp):
        pair, operator = (node.left, node.right), node.op
    elif isinstance(node, ast.BoolOp) and len(node.values) == 2:
        pair, operator = (node.values[0], node.values[1]), node.op
    elif isinstance(node, ast.Constant) and type(node.value) is int:
        start, end = place(node), place(node, at_end=True)
        yield Fault(name, node.lineno, start, end, str(node.value), str(node.value + 1))
        return
    elif isinstance(node, ast.If | ast.IfExp):
        start, end = place(node.test), place(node.test, at_end=True)
        before = text[start:end].decode()
        yield Fault(name, node.test.lineno, start, end, before, f"(not ({before}))")
        return
    else:
        return
    start, end = place(pair[0], at_end=True), place(pair[1])
    between = text[start:end].decode()
    after = TURNED.get(type(operator))
    # Brackets or a comment between the two: left alone.
    if after is not None and set("()#").isdisjoint(between):
        yield Fault(name, pair[1].lineno, start, end, between.strip(), f" {after} ")


def chosen(number: int, seed: int) -> list[Fault]:
    """Return so many faults, the same for the same seed."""
    every = [
        fault
        for root in SOURCE_ROOTS
        for file in sorted((ROOT / root).rglob("*.py"))
        for fault in faults_of(file)
    ]
    return random.Random(seed).sample(every, number)  # noqa: S311 - to be repeated


class Suite:
    """A copy of the checkout that faults are made in, and which test runs which line."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        subprocess.run(["git", "clone", "--quiet", ROOT, folder], check=True)
        self._tests: dict[str, dict[tuple[str, int], list[str]]] = {}

    def learn(self, part: str) -> None:
        """Run a part once and note which of its tests runs which line."""
        data = self.folder / f"{part}.coverage"
        options = (
            f"--part={part}",
            "--cov",
            "--cov-context=test",
            "--cov-report=",
            "--cov-fail-under=0",
        )
        if self._pytest(*options, coverage=data) != 0:
            raise SystemExit(f"the {part} tests fail without any fault")
        found: dict[tuple[str, int], list[str]] = {}
        with closing(sqlite3.connect(data)) as rows:
            for path, context, lines in rows.execute(
                "SELECT file.path, context.context, arc.fromno FROM arc "
                "JOIN file ON file.id = arc.file_id JOIN context ON context.id = arc.context_id "
                "WHERE context.context LIKE '%|run' AND arc.fromno > 0"
            ):
                name = Path(path).relative_to(self.folder).as_posix()
                tests = found.setdefault((name, lines), [])
                test = context.removesuffix("|run")
                if test not in tests[-1:]:
                    tests.append(test)
        self._tests[part] = found

    def notices(self, fault: Fault, part: str) -> bool:
        """Whether a test of a part fails with a fault in place."""
        tests = sorted(set(self._tests[part].get((fault.file, fault.line), ())))[:MOST_TESTS]
        if not tests:
            return False
        file = self.folder / fault.file
        good = file.read_bytes()
        file.write_bytes(good[: fault.start] + fault.after.encode() + good[fault.end :])
        try:
            return self._pytest(f"--part={part}", "-x", "-n", "0", *tests) != 0
        finally:
            file.write_bytes(good)

    def _pytest(self, *arguments: str, coverage: Path | None = None) -> int:
        roots = [str(self.folder / name) for name in (*SOURCE_ROOTS, "migrations", "demo_seed")]
        own = {"PYTHONPATH": os.pathsep.join(roots), "PYTHONDONTWRITEBYTECODE": "1"}
        if coverage is not None:
            own["COVERAGE_FILE"] = str(coverage)
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *arguments]
        try:
            return subprocess.run(
                command,
                cwd=self.folder,
                env={**os.environ, **own},
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=None if coverage else PATIENCE_SECONDS,
                check=False,
            ).returncode
        except subprocess.TimeoutExpired:
            return 1


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the faults one after the other and report; the status is 1 below the share wanted."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20_261_129)
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        suite = Suite(Path(folder) / "checkout")
        for part in ("quick", "rest"):
            suite.learn(part)
        quick, late = 0, []
        for number, fault in enumerate(chosen(given.faults, given.seed), 1):
            if suite.notices(fault, "quick"):
                quick += 1
                verdict = "quick"
            elif suite.notices(fault, "rest"):
                late.append(fault)
                verdict = "rest only"
            else:
                verdict = "nobody"
            sys.stdout.write(f"{number:4} {verdict:10} {fault}\n")
            sys.stdout.flush()
    noticed = quick + len(late)
    share = quick / noticed if noticed else 0.0
    sys.stdout.write(f"{noticed} of {given.faults} noticed; {share:.1%} by the quick tests\n")
    return 0 if share >= SHARE_WANTED else 1


if __name__ == "__main__":
    sys.exit(main())
