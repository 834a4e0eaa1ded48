"""What would be on the disk if the power went at a given instant.

A server runs under strace, which writes down every write to its files, every wait for the disk, and
every answer that it sent. From that the files are rebuilt as they would be after a power cut: what
was waited for is there; of what was not, nothing (the careful disk), or a random half in random
order (the careless one). Taken for granted: a single write is not torn, and a file once deleted
stays deleted.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

TRACE = (
    "strace",
    "-f",
    "-y",
    "-xx",
    *("-s", "200000"),
    *("-e", "trace=pwrite64,ftruncate,fsync,fdatasync,unlink,sendto"),
    *("-e", "signal=none"),
    "-o",
)
_CALL = re.compile(r"^(\d+) +(\w+)\((.*)$")
_RESUMED = re.compile(r"^(\d+) +<\.\.\. (\w+) resumed>")
_FILE = re.compile(r"^\d+<((?:\\x..)+|[^>]*)>")
_DATA = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')


@dataclass(frozen=True)
class Event:
    """One thing that happened: `write`, `truncate`, `sync`, `delete` or `answer`."""

    kind: str
    file: str = ""
    offset: int = 0
    data: bytes = b""


@dataclass
class _File:
    durable: bytearray
    pending: list[Event] = field(default_factory=list)


def read_trace(trace: Path, folder: Path) -> list[Event]:
    """Return what a trace says about the files of a folder and about answers, in order."""
    events: list[Event] = []
    waiting: dict[str, Event | None] = {}
    with trace.open(encoding="ascii", errors="replace") as lines:
        for line in lines:
            resumed = _RESUMED.match(line)
            if resumed:
                event = waiting.pop(resumed[1], None)
            else:
                call = _CALL.match(line)
                event = _event(call[2], call[3], folder) if call else None
                if call and event and event.kind == "sync" and "<unfinished" in call[3]:
                    # Only a wait that has ended has put anything on the disk.
                    waiting[call[1]] = event
                    continue
            if event is not None:
                events.append(event)
    return events


def _event(name: str, arguments: str, folder: Path) -> Event | None:
    if name == "sendto":
        data = _DATA.search(arguments)
        return Event("answer", data=_bytes(data[1])) if data else None
    if name == "unlink":
        data = _DATA.search(arguments)
        path = _bytes(data[1]).decode() if data else ""
    else:
        found = _FILE.match(arguments)
        path = _text(found[1]) if found else ""
    if not path.startswith(f"{folder}/") or path.endswith("-shm"):
        return None
    file = path.removeprefix(f"{folder}/")
    if name == "unlink":
        return Event("delete", file)
    if name in {"fsync", "fdatasync"}:
        return Event("sync", file)
    numbers = [int(number) for number in re.findall(r", (\d+)", _DATA.sub("", arguments))]
    if name == "ftruncate":
        return Event("truncate", file, offset=numbers[0])
    data = _DATA.search(arguments)
    assert data, arguments[:200]
    return Event("write", file, offset=numbers[1], data=_bytes(data[1]))


def _bytes(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


def _text(text: str) -> str:
    return _bytes(text).decode() if text.startswith("\\x") else text


def files_after(
    start: dict[str, bytes], events: Sequence[Event], dice: random.Random | None
) -> dict[str, bytes]:
    """Return the files after a cut behind these events; with dice the disk is a careless one."""
    files = {name: _File(bytearray(content)) for name, content in start.items()}
    for event in events:
        if event.kind == "delete":
            files.pop(event.file, None)
        elif event.kind == "sync":
            file = files.setdefault(event.file, _File(bytearray()))
            for each in file.pending:
                _apply(file.durable, each)
            file.pending.clear()
        elif event.kind in {"write", "truncate"}:
            files.setdefault(event.file, _File(bytearray())).pending.append(event)
    if dice is not None:
        for file in files.values():
            chosen = [event for event in file.pending if dice.random() < 0.5]
            dice.shuffle(chosen)
            for event in chosen:
                _apply(file.durable, event)
    return {name: bytes(file.durable) for name, file in files.items()}


def _apply(content: bytearray, event: Event) -> None:
    if event.kind == "truncate":
        del content[event.offset :]
        content.extend(bytes(event.offset - len(content)))
        return
    content.extend(bytes(max(0, event.offset - len(content))))
    content[event.offset : event.offset + len(event.data)] = event.data


def answers(events: Sequence[Event]) -> Iterator[bytes]:
    """Return what clients had been sent."""
    return (event.data for event in events if event.kind == "answer")
