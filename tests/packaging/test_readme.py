"""The README's tour is run line by line against the demo, so that it cannot go stale."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

pytestmark = pytest.mark.rest

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
SPAREWELL = Path(sys.executable).parent / "sparewell"
MARK = "=== step ==="


def tour() -> list[tuple[str, str]]:
    """Return each command of the tour with the output the README shows."""
    section = README.read_text().split("## Five minutes with the demo")[1].split("\n## ")[0]
    steps: list[tuple[str, str]] = []
    for block in re.findall(r"```console\n(.*?)```", section, re.DOTALL):
        for piece in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, shown = piece.partition("\n")
            steps.append((command, shown.strip()))
    return steps


@pytest.fixture(scope="module")
def demo() -> Iterator[tuple[str, str]]:
    """A running demo: its address and its token."""
    with subprocess.Popen(
        [SPAREWELL, "demo", "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as process:
        assert process.stdout is not None
        address = token = ""
        for line in process.stdout:
            address = line.rsplit(" ", 1)[1].strip() if "listens on" in line else address
            token = line.split(" ", 1)[1].strip() if line.startswith("Token:") else token
            if "Ctrl-C" in line:
                break
        yield address, token
        process.terminate()
        process.wait(timeout=30)


def test_tour_gives_the_output_it_shows(demo: tuple[str, str]) -> None:
    """Each command of the tour prints what the README shows, `…` standing for anything."""
    if shutil.which("curl") is None:
        assert os.environ.get("CI") != "true", "CI has no curl"
        pytest.skip("no curl here")
    address, token = demo
    steps = tour()
    assert len(steps) > 12
    script = [f"SPAREWELL_TOKEN={token}; export SPAREWELL_TOKEN SPAREWELL_URL={address}"]
    for command, _ in steps:
        ours = command.replace("http://127.0.0.1:8417", address)
        ours = ours.replace(".venv/bin/sparewell", str(SPAREWELL))
        script += ["true" if command.startswith("export ") else ours, f"echo; echo '{MARK}'"]
    run = subprocess.run(
        ["bash", "-c", "\n".join(script)], capture_output=True, text=True, timeout=120, check=False
    )
    printed = [part.strip() for part in run.stdout.split(MARK)]
    for (command, shown), got in zip(steps, printed, strict=False):
        pattern = re.escape(shown).replace("…", ".*")
        assert re.fullmatch(pattern, got, re.DOTALL), f"$ {command}\n{got}\n{run.stderr}"


def test_readme_opens_with_the_job_and_two_commands() -> None:
    """The first paragraph tells the job; the two set-up commands stand alone in their blocks."""
    text = README.read_text()
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    assert blocks[0].count("\n") == blocks[1].count("\n") == 1
    assert blocks[0].rstrip().endswith("sparewell demo")
    assert blocks[1].rstrip().endswith("pytest")
    assert text.index("Sparewell is the parts-and-spares service") < text.index("```sh")
