"""The commands of the bench: donors, counting a drawer, photographs, waiting; against a server."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from cli.conftest import BODY, Bench
from support.pictures import SECRET, chunk, exif, jpeg, png

HEAVY = {"flask", "sqlalchemy", "alembic", "marshmallow", "pluggy"}


def one_row(bench: Bench, statement: str) -> Any:
    """Do one statement beside the server, and return its row."""
    with closing(sqlite3.connect(bench.workshop.database_file)) as file:
        row = file.execute(statement).fetchone()
        file.commit()
    return row


def wreck(bench: Bench) -> str:
    """Keep a donor with a cap, its clip, an unchecked feed and a broken nib."""
    return bench.run(
        *("donor", "add", "red wreck", "--material", "celluloid", "--note", "aired"),
        *("--present", "clip in cap", "--unchecked", "feed", "--missing", "lever"),
        *("--present", "cap: thread_diameter=12,6 mm, thread_starts=3, colour_note=olive, faded"),
        *("--damaged", "nib: note=one tine gone"),
    )


def test_a_donor_is_kept_with_its_list(bench: Bench) -> None:
    """Pieces are written as people say them; each is shown with lot, size and what holds it."""
    assert wreck(bench) == bench.run("donor", "show", "DON-0001")
    lines = [re.sub(" {2,}", "  ", line).strip() for line in wreck(bench).splitlines()]
    assert lines[0] == "DON-0002  red wreck  (celluloid; aired)"
    assert lines[1:6] == [
        "present  cap  lot 5  thread diameter 12.6 mm; thread starts 3; colour note olive, faded",
        "unchecked  feed  lot 6",
        "damaged  nib  no piece  one tine gone",
        "missing  lever  no piece",
        "present  clip  lot 7  fixed in the cap",
    ]
    assert lines[6] == "Mind:"
    assert any("celluloid" in line.lower() for line in lines[7:])
    cap, *others, clip = bench.json("donor", "show", "DON-0002")["components"]
    assert (clip["part_of"], {each["part_of"] for each in others}) == (cap["id"], {None})


def test_a_pen_becomes_a_donor(bench: Bench) -> None:
    """`--pen` makes a donor of a pen that is there, and says which it was."""
    job = bench.job()
    refused = bench.run("donor", "add", "--pen", "PEN-0001", "--present", "nib", status=1)
    assert job in refused
    bench.api.post(f"/v1/jobs/{job}/cancel", {})
    said = bench.run("donor", "add", "--pen", "PEN-0001", "--present", "nib")
    assert said.startswith("DON-0001  olive lever pen  (material not known; was PEN-0001)\n")


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("donor", "add"), 2, "say what the pen is called, or give --pen"),
        (("donor", "add", "wreck", "--pen", "PEN-0001"), 2, "or give --pen"),
        (("donor", "add", "--pen", "PEN-0001", "--material", "celluloid"), 2, "is known already"),
        (("donor", "add", "x", "--present", "cap in cap"), 2, "no piece is fixed in itself"),
        (("donor", "add", "x", "--present", "clip in cap"), 2, "the list has 0 of these"),
        (("donor", "add", "x", "--present", "cap: 12.6 mm"), 2, "give NAME=VALUE"),
        (("donor", "add", "x", "--present", "?"), 2, 'give a piece such as "clip in cap"'),
        (("donor", "add", "x", "--present", "girdle"), 2, "components/0/kind"),
        (("donor", "add", "x", "--present", "cap: girth=3"), 2, "girth"),
        (("donor", "show", "DON-0099"), 1, "there is no donor 'DON-0099'"),
        (("donor", "strip", "DON-0099", "1", "--to", "A3"), 1, "there is no donor"),
        (("donor", "strip", "DON-0099", "--to", "A3"), 2, "LOTS"),
        (("donor", "find", "--kind", "girdle"), 2, "there is no kind 'girdle'"),
        (("donor", "find", "--kind", "cap", "--tolerance", "1"), 2, "needs a dimension"),
        (("donor", "find", "--kind", "cap", "--attribute", "starts"), 2, "give NAME=VALUE"),
        (("donor", "find", "--kind", "clip"), 1, "No donor has such a clip to give."),
        (("count", "Z9"), 1, "there is no drawer 'Z9'"),
        (("count", "A3", "--reason", "spring"), 2, "go with --counted"),
        (("count", "A3", "--counted", "ten"), 2, "give LOT=N"),
        (("count", "A3", "--counted", "0=1"), 2, "give LOT=N"),
        (("count", "A3", "--counted", "99=1"), 2, "there is no bag 99"),
        (("photograph", "add", "PEN-0001", "/nowhere.jpg"), 2, "nowhere.jpg"),
        (("photograph", "list", "DON-0099"), 1, "there is no donor 'DON-0099'"),
        (("photograph", "list", "PEN-0099"), 1, "there is no pen 'PEN-0099'"),
    ],
)
def test_refusals_have_their_status(
    stocked: Any, arguments: tuple[str, ...], status: int, said: str
) -> None:
    """Wrong usage is 2, what is not there is 1, each told in a sentence and without a trace."""
    ran = stocked[0].run(*arguments)
    assert ran.status == status, ran.err
    assert said in ran.out + ran.err
    assert "Traceback" not in ran.err


def test_find_names_the_donors_that_still_have_one(bench: Bench) -> None:
    """What fits is named, what was promised is not, and what is unmeasured stands apart."""
    wreck(bench)
    bench.run("donor", "add", "black wreck", "--present", "cap", "--unchecked", "clip: length=38")
    cap = ("donor", "find", "--kind", "cap", "--thread-diameter", "12.7", "--tolerance", "0.2")
    said = bench.run(*cap)
    assert said.startswith("1 found\n  in DON-0001  lot 2  cap  thread diameter 12.6 mm (measured)")
    assert "Not measured, so it may fit or not: 1\n  in DON-0002" in said
    found = bench.json(*cap, "--attribute", "thread_starts=3", "--material", "celluloid", status=1)
    assert found == {"found": [], "not_measured": []}
    assert len(bench.json(*cap, "--attribute", "thread_starts=3")["found"]) == 1
    clips = bench.run("donor", "find", "--kind", "clip")
    assert "fixed in lot 2" in clips
    assert "nobody has looked at it yet" in clips
    job = bench.job()
    bench.api.post(f"/v1/jobs/{job}/reservations", {"lot": 2})
    said = bench.run(*cap, status=1)
    assert said.startswith("No donor has such a cap to give.\nNot measured")
    shown = bench.run("donor", "show", "DON-0001")
    assert len(re.findall(f"promised to {job}", shown)) == 2


def test_what_is_stripped_lies_in_the_drawer_and_is_found_by_others(bench: Bench) -> None:
    """A cap comes out with its clip; others say what kind of piece it is that has no part."""
    wreck(bench)
    taken = bench.run("donor", "strip", "DON-0001", "2", "--to", "A3", "--note", "soaked off")
    assert taken == "Taken out of DON-0001 into A3: lot 2 (cap), lot 4 (clip)\n"
    assert "lies in A3" in bench.run("donor", "show", "DON-0001")
    check = ("stock", "check", "--kind", "cap", "--thread-diameter", "12.6")
    assert bench.run(*check) == (
        "1 available, 1 wanted: enough\n"
        "  lot 2 in A3: 1 of cap without a part out of DON-0001, "
        "thread diameter 12.6 mm (measured)\n"
    )
    assert "cap without a part" in bench.run("count", "A3")
    assert bench.run("donor", "find", "--kind", "cap", status=1)


def test_a_fit_names_a_donors_piece_without_a_part(bench: Bench) -> None:
    """A sac still in a donor is among the pieces, with its place and as what it is."""
    sac = "sac: outside_diameter=5.9 mm, length=75 mm, material=latex"
    bench.run("donor", "add", "wreck", "--present", sac)
    options = [f"--{name.replace('_', '-')}={value}" for name, value in BODY.items()]
    said = bench.run("fit", "sac", *options)
    assert re.search(r"lot 2 +in DON-0001 +sac without a part +1 available", said), said


def test_a_drawer_is_counted_by_its_sheet(bench: Bench) -> None:
    """The sheet says what should be found; counts are posted together, or refused by job."""
    job = bench.job()
    held = {"lot": 1, "quantity": 4}
    reserved = bench.api.post(f"/v1/jobs/{job}/reservations", held)["reservations"][0]
    bench.api.post(f"/v1/reservations/{reserved['id']}/fetch", {"quantity": 1})
    bench.api.post(
        "/v1/lots", {"part": "SAC-15-STR", "drawer": "A3", "quantity": 2, "label": "old"}
    )
    assert bench.run("count", "A3") == (
        "Drawer A3: 2 lots, 12 pieces\n"
        f"  lot 1  SAC-15-STR        10  4 promised to {job}, 1 of them in trays\n"
        "  lot 2  SAC-15-STR (old)  2\n"
        "Count pieces in trays too. Then:\n"
        "  sparewell count A3 --counted 1=… --counted 2=…\n"
    )
    assert bench.json("count", "A3")["lines"][0]["jobs"] == [job]
    said = bench.run("count", "A3", "--counted", "1=3", "--counted", "2=2", status=1)
    assert f"less than is promised to {job}, so nothing was counted" in said
    assert f"  {job} waits for lot 1 (reservation {reserved['id']})\n" in said
    assert "--release RESERVATION gives a promise up" in said
    done = bench.run("count", "A3", "--counted", "1=9", "--reason", "spring")
    assert re.fullmatch(
        r"Counted, as group \d+ of the ledger:\n"
        r"  lot 1  10 expected  9 counted  1 fewer\n"
        r"Not counted:\n  lot 2  SAC-15-STR \(old\)  2\n",
        done,
    )
    both = ("count", "A3", "--counted", "1=0", "--counted", "2=3")
    found = bench.json(*both, "--release", str(reserved["id"]))
    assert [each["difference"] for each in found["counted"]] == [-9, 1]
    assert bench.run("count", "A3").startswith("Drawer A3: 1 lot, 3 pieces\n")
    bench.run("count", "A3", "--counted", "2=0")
    assert bench.run("count", "A3") == "Drawer A3: nothing should be found in it.\n"


def test_a_photograph_is_kept_without_its_place(bench: Bench, tmp_path: Path) -> None:
    """A file goes to a pen or a donor and is listed; what is no picture is refused with 2."""
    bench.job()
    wreck(bench)
    file = tmp_path / "cap band.jpg"
    file.write_bytes(jpeg(40, 30, around=exif(6)))
    said = bench.run(
        *("photograph", "add", "PEN-0001", str(file), "--note", "crack", "--taken-on", "2026-11-20")
    )
    assert said == "Photograph 1 of PEN-0001: JPEG, 40 by 30, 1 KiB, taken on 2026-11-20\n"
    (data,) = one_row(bench, "SELECT data FROM photograph_image")
    assert (data.startswith(b"\xff\xd8"), SECRET in data) == (True, False)
    assert bench.run("photograph", "list", "PEN-0001") == (
        "  1  /v1/photographs/1/image  JPEG, 40 by 30, 1 KiB, taken on 2026-11-20  crack\n"
    )
    file.write_bytes(png())
    assert bench.json("photograph", "add", "DON-0001", str(file))["donor"] == "DON-0001"
    assert [each["id"] for each in bench.json("photograph", "list", "DON-0001")] == [2]
    assert "already" in bench.run("photograph", "add", "DON-0001", str(file), status=1)
    file.write_bytes(b"GIF89a")
    assert "no JPEG, PNG or WebP" in bench.run("photograph", "add", "PEN-0001", str(file), status=2)
    bench.api.post("/v1/photographs/1/retire", {"why": "blurred"})
    assert bench.run("photograph", "list", "PEN-0001") == "There is no photograph of PEN-0001.\n"


def test_photographs_have_a_limit_that_a_variable_sets(migrated: Any, tmp_path: Path) -> None:
    """Over the socket a picture past the usual limit is kept, and one past its own is refused."""
    token = migrated.run("token", "new", "bench", "--scope", "write").out.strip()
    limits = {"SPAREWELL_BODY_LIMIT": "1024", "SPAREWELL_PHOTOGRAPH_LIMIT": "4000"}
    file = tmp_path / "large.png"
    with migrated.serve(**limits) as running:
        migrated.environment |= {"SPAREWELL_URL": running.url, "SPAREWELL_TOKEN": token}
        assert migrated.run("donor", "add", "wreck").status == 0
        for filling, status in ((3000, 0), (5000, 1)):
            file.write_bytes(
                png().replace(chunk(b"IEND", b""), chunk(b"IDAT", bytes(filling)))
                + chunk(b"IEND", b"")
            )
            ran = migrated.run("photograph", "add", "DON-0001", str(file))
            assert ran.status == status, ran.err
        assert "SPAREWELL_PHOTOGRAPH_LIMIT of 4000 bytes" in ran.err
    refused = migrated.run("serve", SPAREWELL_PHOTOGRAPH_LIMIT="8 MB")
    assert (refused.status, "SPAREWELL_PHOTOGRAPH_LIMIT: give bytes" in refused.err) == (2, True)


def test_waiting_tells_what_is_ready(bench: Bench) -> None:
    """Nothing ready is 1, something ready is 0, and each says until or since when."""
    assert bench.run("waiting", status=1) == "Nothing is waiting.\n"
    job = bench.job()
    bench.api.post(f"/v1/jobs/{job}/timers", {"what": "shellac sets", "minutes": 30})
    said = bench.run("waiting", status=1)
    assert re.fullmatch(
        rf"Waiting:\n  {job}  until \d{{4}}-\d\d-\d\d \d\d:\d\d  shellac sets  olive lever pen\n",
        said,
    )
    found = bench.json("waiting", status=1)
    assert (found["ready"], [each["what"] for each in found["running"]]) == ([], ["shellac sets"])
    one_row(bench, "UPDATE timer SET until = '2026-01-02 03:04:00' RETURNING id")
    ready = bench.workshop.run("waiting", TZ="Etc/GMT-2")
    assert ready.out == (
        f"Ready:\n  {job}  since 2026-01-02 05:04  shellac sets  olive lever pen\n"
    )
    assert ready.status == 0


@pytest.mark.parametrize(
    "arguments",
    [
        ("count", "A3"),
        ("waiting",),
        ("donor", "find", "--kind", "clip"),
        ("photograph", "list", "PEN-0099"),
    ],
)
def test_the_commands_import_no_server(stocked: Any, arguments: tuple[str, ...]) -> None:
    """The commands that only ask do without the server's libraries, or they would be slow."""
    ran = stocked[0].python("-X", "importtime", "-m", "sparewell.cli.main", *arguments)
    assert ran.status in {0, 1}
    imported = set(re.findall(r"\| +([\w.]+)$", ran.err, re.MULTILINE))
    assert "urllib3" in imported
    assert {name.partition(".")[0] for name in imported} & HEAVY == set()


def test_more_lots_than_anyone_reads_are_counted(filled: Any) -> None:
    """The server counts all, the lines go as far as one page, and --json lists every one."""
    workshop, _ = filled
    rows = "".join(f"SAC-15-STR;A3;2;bag {number}\n" for number in range(510))
    file = workshop.folder / "many.csv"
    file.write_text("part;drawer;pieces;note\n" + rows)
    assert workshop.run("import", str(file), "--as", "lots", "--apply").status == 0
    check = ("stock", "check", "--kind", "sac", "--at-least", "1031")
    ran = workshop.run(*check)
    lines = ran.out.splitlines()
    assert (ran.status, lines[0]) == (1, "1030 available, 1031 wanted: short by 1")
    assert len(lines) == 502
    assert lines[-1] == "  and 11 more lots; --json lists them all"
    found = json.loads(workshop.run(*check, "--json").out)
    assert (found["available"], len(found["lots"])) == (1030, 511)
