"""Small pictures, made here byte by byte, with and without what a telephone writes beside them."""

from __future__ import annotations

import struct
import zlib

SECRET = b"GPSLatitude 48.2 at home"
PIXELS = b"\x12\xff\x00\x34\xff\xd0\x56"


def tiff(orientation: int | None, order: str = "<") -> bytes:
    """Return what stands in Exif: how the picture is turned, if said, and where it was taken."""
    start = b"II*\0" if order == "<" else b"MM\0*"
    entries = [struct.pack(f"{order}HHII", 0x8825, 4, 1, 100)]
    if orientation is not None:
        entries.insert(0, struct.pack(f"{order}HHIHH", 0x0112, 3, 1, orientation, 0))
    count = struct.pack(f"{order}H", len(entries))
    return start + struct.pack(f"{order}I", 8) + count + b"".join(entries) + b"\0" * 4 + SECRET


def segment(marker: int, body: bytes) -> bytes:
    """Return a piece of a JPEG."""
    return bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body


def jpeg(
    width: int = 40, height: int = 30, *, around: bytes = b"", behind: bytes = b"", seed: int = 0
) -> bytes:
    """Return what has the pieces of a JPEG in their order."""
    frame = struct.pack(">BHHB", 8, height, width, 1) + b"\x01\x11\x00"
    return b"".join(
        (
            b"\xff\xd8",
            segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0"),
            around,
            segment(0xDB, bytes([0, *[1 + seed % 200] * 64])),
            segment(0xC2, frame),
            segment(0xC4, b"\0" + b"\0" * 16),
            segment(0xDA, b"\x01\x01\x00\x00\x3f\x00") + PIXELS,
            segment(0xC4, b"\x10" + b"\0" * 16),
            segment(0xDA, b"\x01\x01\x00\x00\x3f\x00") + PIXELS,
            b"\xff\xd9",
            behind,
        )
    )


def profile(*texts: bytes) -> bytes:
    """Return a colour profile with one curve, and with texts if any are given."""
    bodies = [
        (b"rTRC", b"curv\0\0\0\0\0\0\0\0"),
        *((b"cprt", b"text\0\0\0\0" + text) for text in texts),
    ]
    place = 128 + 4 + 12 * len(bodies)
    table = struct.pack(">I", len(bodies))
    for name, body in bodies:
        table += struct.pack(">4sII", name, place, len(body))
        place += len(body)
    return bytes(128) + table + b"".join(body for _, body in bodies)


def jpeg_profile(whole: bytes) -> bytes:
    """Return the piece of a JPEG that holds a colour profile."""
    return segment(0xE2, b"ICC_PROFILE\0\1\1" + whole)


def exif(orientation: int | None) -> bytes:
    """Return the piece of a JPEG that holds Exif."""
    return segment(0xE1, b"Exif\0\0" + tiff(orientation))


def chunk(name: bytes, body: bytes) -> bytes:
    """Return a piece of a PNG."""
    checksum = zlib.crc32(name + body)
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", checksum)


def png(
    width: int = 4, height: int = 3, *, around: bytes = b"", behind: bytes = b"", grey: int = 0
) -> bytes:
    """Return a grey PNG."""
    lines = (b"\0" + bytes([grey]) * width) * height
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)),
            around,
            chunk(b"IDAT", zlib.compress(lines)),
            chunk(b"IEND", b""),
            behind,
        )
    )


def riff(*chunks: tuple[bytes, bytes]) -> bytes:
    """Return a WebP of these pieces."""
    inner = b"WEBP" + b"".join(
        name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
        for name, body in chunks
    )
    return b"RIFF" + struct.pack("<I", len(inner)) + inner


def extended(width: int, height: int, flags: int) -> tuple[bytes, bytes]:
    """Return the first piece of a WebP that has further ones."""
    sides = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    return b"VP8X", bytes([flags, 0, 0, 0]) + sides


def lossless(width: int, height: int) -> tuple[bytes, bytes]:
    """Return the pixels of a WebP that loses none."""
    bits = (width - 1) | (height - 1) << 14
    return b"VP8L", b"\x2f" + bits.to_bytes(4, "little") + b"pixels!"


def lossy(width: int, height: int) -> tuple[bytes, bytes]:
    """Return the pixels of a WebP that loses some."""
    return b"VP8 ", b"\x10\0\0\x9d\x01\x2a" + struct.pack("<HH", width, height) + b"pixels"
