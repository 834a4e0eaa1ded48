"""The demo: there in a moment, gone without a trace."""

from __future__ import annotations

import re
import time
from pathlib import Path
from typing import Any

import pytest
import urllib3


def test_the_demo_shows_the_main_job_and_cleans_up(workshop: Any, tmp_path: Path) -> None:
    """It prints a token that works and the answer with a place, and its folder goes at SIGTERM."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    with workshop.start(workshop.program, "demo", "--port", "0", TMPDIR=str(temporary)) as running:
        deadline = time.monotonic() + 60
        while "Ctrl-C stops the demo" not in running.out() and time.monotonic() < deadline:
            time.sleep(0.05)
        text = running.out()
        token = re.search(r"^Token: (\S+)$", text, re.MULTILINE)
        assert token is not None
        assert re.search(r"^size +15$", text, re.MULTILINE)
        assert re.search(r"^  lot \d+ +in \S+ .* available  fits", text, re.MULTILINE)
        assert f"export SPAREWELL_URL={running.url} SPAREWELL_TOKEN={token[1]}" in text
        response = urllib3.request(
            "GET",
            f"{running.url}/v1/lots?limit=1",
            headers={"Authorization": f"Bearer {token[1]}"},
            retries=False,
        )
        assert response.status == 200
        assert response.json()["lots"]
        assert len(list(temporary.iterdir())) == 1
        assert running.end() == 0
    assert list(temporary.iterdir()) == []
    assert not workshop.database_file.exists()


@pytest.mark.parametrize("after_seconds", [0.7, 0.9])
def test_a_demo_ended_early_leaves_nothing(
    workshop: Any, tmp_path: Path, after_seconds: float
) -> None:
    """SIGTERM while the drawers are being filled takes the folder away too."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    ran = workshop.python(
        "-c",
        "import signal, subprocess, sys, time\n"
        "process = subprocess.Popen(sys.argv[2:], stdout=subprocess.DEVNULL)\n"
        "time.sleep(float(sys.argv[1])); process.send_signal(signal.SIGTERM)\n"
        "sys.exit(process.wait(30) < 0 and 99)",
        str(after_seconds),
        str(workshop.program),
        "demo",
        "--port",
        "0",
        TMPDIR=str(temporary),
    )
    assert "Traceback" not in ran.err
    assert list(temporary.iterdir()) == []
