"""The demo: there in a moment, gone without a trace."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import urllib3

pytestmark = pytest.mark.rest


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
        assert re.search(r"^  lot \d+ +in \S+ .* available  try in", text, re.MULTILINE)
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


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, make_workshop: Any) -> Iterator[Any]:
    """Serve a demo that is only looked at; the commands of its workshop ask it."""
    workshop = make_workshop(tmp_path_factory.mktemp("demo"))
    with workshop.start(workshop.program, "demo", "--port", "0") as running:
        found = re.search(r"^Token: (\S+)$", running.out(), re.MULTILINE)
        deadline = time.monotonic() + 60
        while found is None and time.monotonic() < deadline:
            time.sleep(0.05)
            found = re.search(r"^Token: (\S+)$", running.out(), re.MULTILINE)
        assert found is not None
        workshop.environment |= {"SPAREWELL_URL": running.url, "SPAREWELL_TOKEN": found[1]}
        yield workshop


def ask(workshop: Any, path: str) -> Any:
    """Fetch a document of the demo."""
    response = urllib3.request(
        "GET",
        workshop.environment["SPAREWELL_URL"] + path,
        headers={"Authorization": f"Bearer {workshop.environment['SPAREWELL_TOKEN']}"},
        retries=False,
    )
    assert response.status == 200, response.data
    is_json = response.headers["Content-Type"] == "application/json"
    return response.json() if is_json else response.data


def number_of(workshop: Any, called: str) -> str:
    """Return the number of a pen of the demo."""
    pens = ask(workshop, "/v1/pens?limit=500")["pens"]
    return next(str(pen["number"]) for pen in pens if pen["called"] == called)


def test_the_demo_remembers_what_pens_like_one_took(demo: Any) -> None:
    """Most took a 17, of which one leaked, some a 16; the plan of the open job says so too."""
    pen = number_of(demo, "green striped lever pen")
    alike = ask(demo, f"/v1/pens/{pen}/alike")["alike"]
    sentences = [each["sentence"] for each in alike]
    assert re.fullmatch(r"[0-9]+ pens like this took a 17; one leaked", sentences[0])
    assert re.fullmatch(r"[0-9]+ pens like this took a 16", sentences[1])
    (job,) = ask(demo, f"/v1/jobs?pen={pen}")["jobs"]
    sac = ask(demo, f"/v1/jobs/{job['number']}/plan")["needs"][0]
    assert [each["sentence"] for each in sac["alike"]] == sentences


def test_the_demo_has_a_bag_with_two_leakers_and_a_sister(demo: Any) -> None:
    """The outcomes of one bag of 17 name the pen that has another sac of it and holds still."""
    lots = ask(demo, "/v1/lots?part=SAC-17-STR")["lots"]
    found = [ask(demo, f"/v1/lots/{lot['id']}/outcomes") for lot in lots]
    (bag,) = [
        each for each in found if any(told["outcome"] == "leaked" for told in each["outcomes"])
    ]
    leaked = {each["pen"] for each in bag["outcomes"] if each["outcome"] == "leaked"}
    assert leaked == {
        number_of(demo, called) for called in ("blue marbled lever pen", "violet crescent pen")
    }
    assert [each["pen"] for each in bag["sisters"]] == [number_of(demo, "sand lever pen")]


def test_the_demo_has_something_for_each_command_of_the_bench(demo: Any) -> None:
    """A donor half looked at, a clip in a cap, a timer ready and one running, and a photograph."""
    donor = demo.run("donor", "show", "DON-0001")
    for state, count in (("present", 2), ("unchecked", 2), ("damaged", 1), ("missing", 1)):
        assert len(re.findall(rf"^  {state} ", donor.out, re.MULTILINE)) == count, donor.out
    assert "fixed in the cap" in donor.out
    cap = ("donor", "find", "--kind", "cap", "--thread-diameter", "12.6", "--tolerance", "0.2")
    assert demo.run(*cap).status == 0
    waiting = demo.run("waiting")
    assert re.search(r"Ready:\n.* soaks .*\nWaiting:\n.* shellac sets ", waiting.out), waiting.out
    assert waiting.status == 0
    pen = number_of(demo, "olive lever pen")
    (photograph,) = ask(demo, f"/v1/pens/{pen}/photographs")["photographs"]
    assert photograph["media_type"] == "image/png"
    assert len(ask(demo, photograph["image"])) == photograph["size_bytes"]
    assert demo.run("count", "A5").out.startswith("Drawer A5: ")


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
