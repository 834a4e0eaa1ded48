"""The photograph of the demo: no pen at all, but a few shapes in colours, put into a PNG."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

WIDTH_PIXELS, HEIGHT_PIXELS = 240, 60
_AXIS = HEIGHT_PIXELS // 2
_BENCH = (236, 230, 218)
_STEEL = (168, 172, 176)
_DARK = (40, 38, 36)
# From left to right: from where to where, how thick to each side, and the colour or "own".
_SHAPES = (
    (18, 30, 4, _STEEL),
    (30, 50, 8, _DARK),
    (50, 140, 13, None),
    (140, 222, 15, None),
    (141, 147, 15, _STEEL),
)
_LEVER = (72, 108, 2)
_CLIP = (150, 210, 11)
_SHADE_PERCENT = 55

Colour = tuple[int, int, int]


def draw_pen(colour: Colour) -> bytes:
    """Return a PNG of something that looks like a pen of this colour lying on a bench."""
    rows = b"".join(b"\0" + bytes(_row(y, colour)) for y in range(HEIGHT_PIXELS))
    header = struct.pack(">IIBBBBB", WIDTH_PIXELS, HEIGHT_PIXELS, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(name, body) for name, body in chunks)


def _chunk(name: bytes, body: bytes) -> bytes:
    checksum = zlib.crc32(name + body)
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", checksum)


def _row(y: int, colour: Colour) -> Iterator[int]:
    for x in range(WIDTH_PIXELS):
        yield from _pixel(x, y, colour)


def _pixel(x: int, y: int, colour: Colour) -> Colour:
    start, end, half = _LEVER
    if start <= x < end and abs(y - _AXIS) <= half:
        return _STEEL
    start, end, above = _CLIP
    if start <= x < end and _AXIS - above <= y <= _AXIS - above + 3:
        return _STEEL
    found = _BENCH
    for start, end, half, own in _SHAPES:
        if start <= x < end and abs(y - _AXIS) <= half:
            found = _shaded(own or colour, abs(y - _AXIS), half)
    return found


def _shaded(colour: Colour, away: int, half: int) -> Colour:
    """Return a colour as it looks on something round, so far from its middle."""
    percent = 100 - _SHADE_PERCENT * away * away // (half * half)
    red, green, blue = (part * percent // 100 for part in colour)
    return red, green, blue
