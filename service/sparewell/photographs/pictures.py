"""What a picture is, found out from its bytes, and the picture without what it says of places.

A telephone writes into its pictures where and when they were taken, with what, and often a second
picture behind the first. A photograph of a customer's pen is no place for that, so a picture is
taken apart into the pieces that its format is made of, and put together again from those alone that
make up the image: colours, pixels, and how they are to be turned. Whatever else there was is gone.
A piece that is not whole, and a file that ends before its end, are refused; so is what is no
picture.

JPEG: ISO/IEC 10918-1 annex B; PNG: ISO/IEC 15948 section 5; WebP: RFC 9649 section 2; how a picture
is turned: tag 0x0112 of TIFF 6.0, as Exif has it.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from sparewell.photographs.profiles import packed_without_texts, without_texts

MOST_PIXELS_PER_SIDE: Final = 16_384
MOST_PIXELS: Final = 120_000_000
JPEG, PNG, WEBP = "image/jpeg", "image/png", "image/webp"
MEDIA_TYPES: Final = (JPEG, PNG, WEBP)
_JPEG_START, _JPEG_END = b"\xff\xd8", b"\xff\xd9"
_PNG_START = b"\x89PNG\r\n\x1a\n"
_EXIF = b"Exif\0\0"
_COLOUR_PROFILE = b"ICC_PROFILE\0"
_IMAGE = frozenset(range(0xC0, 0xE0)) - {0xC8}
_JFIF, _JFIF_BYTES, _ADOBE, _ADOBE_BYTES = b"JFIF\0", 12, b"Adobe", 12
_LONGEST_SEGMENT = 65_533 - len(_COLOUR_PROFILE) - 2
_APP_JFIF, _APP_EXIF, _APP_PROFILE, _APP_COLOURS = 0xE0, 0xE1, 0xE2, 0xEE
_SCAN = 0xDA
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_TOGETHER_WITHOUT_LENGTH = frozenset({0x00, 0x01, *range(0xD0, 0xD9)})


# Pixels end at a marker; a stuffed zero and the eight restart markers stand among them.
_SCAN_END = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")


_PNG_KEPT = frozenset(
    b"IHDR PLTE IDAT IEND cHRM gAMA iCCP sRGB sBIT bKGD hIST tRNS pHYs cICP mDCV cLLI".split()
)
_WEBP_KEPT = frozenset({b"VP8X", b"VP8 ", b"VP8L", b"ALPH"})
_WEBP_MOVING = frozenset({b"ANIM", b"ANMF"})
_WEBP_EXIF_FLAG, _WEBP_XMP_FLAG, _WEBP_PROFILE_FLAG = 0x08, 0x04, 0x20
_ORIENTATION_TAG, _SHORT = 0x0112, 3
_UPRIGHT, _MOST_TURNED = 1, 8


class PictureError(ValueError):
    """The bytes are no picture that is taken in; the message says what would be."""


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept: its type, its pixels as the file has them, how they are turned."""

    media_type: str
    width_pixels: int
    height_pixels: int
    orientation: int | None
    data: bytes


def read_picture(data: bytes) -> Picture:
    """Return the picture that the bytes are. Raises :class:`PictureError`."""
    if not data:
        raise PictureError("send the picture itself as the body: JPEG, PNG or WebP")
    if data.startswith(_JPEG_START):
        picture = _jpeg(data)
    elif data.startswith(_PNG_START):
        picture = _png(data)
    elif data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        picture = _webp(data)
    else:
        raise PictureError(f"this is no JPEG, PNG or WebP; one of these is taken in{_hint(data)}")
    sides = (picture.width_pixels, picture.height_pixels)
    if min(sides) < 1 or max(sides) > MOST_PIXELS_PER_SIDE or sides[0] * sides[1] > MOST_PIXELS:
        raise PictureError(
            f"the picture has {sides[0]} by {sides[1]} pixels; from 1 to {MOST_PIXELS_PER_SIDE} on "
            f"each side and {MOST_PIXELS // 1_000_000} million in all are taken in"
        )
    return picture


def _hint(data: bytes) -> str:
    if data[4:8] == b"ftyp":
        return "; a telephone that takes HEIC can be told to take JPEG"
    if data.startswith((b"GIF8", b"BM", b"II*\0", b"MM\0*")) or data.lstrip()[:1] == b"<":
        return "; save it as one of them"
    return ""


def _broken(what: str) -> PictureError:
    return PictureError(f"the {what} is broken or not whole; send the file again as it is")


def _jpeg(data: bytes) -> Picture:
    """Keep what makes up the image, and nothing behind its end."""
    kept = [_JPEG_START]
    size: tuple[int, int] | None = None
    orientation: int | None = None
    has_pixels = False
    segments = list(_jpeg_segments(data))
    profile = _jpeg_profile(segments)
    for marker, segment in segments:
        body = segment[4:]
        if marker in _FRAMES and size is None:
            if len(body) < 5:  # noqa: PLR2004 - a depth, a height and a width
                raise _broken("JPEG")
            height, width = struct.unpack_from(">HH", body, 1)
            size = width, height
        if marker == _APP_EXIF and body.startswith(_EXIF) and orientation is None:
            orientation = _orientation(body[len(_EXIF) :])
            if orientation is not None:
                turned = _EXIF + _turned(orientation)
                kept.append(_jpeg_segment(marker, turned))
        has_pixels = has_pixels or marker == _SCAN
        if marker in _IMAGE:
            kept.append(segment)
        elif marker == _APP_PROFILE:
            kept, profile = kept + profile, []
        else:
            kept += _jpeg_beside(marker, body)
    if size is None or not has_pixels:
        raise _broken("JPEG")
    kept.append(_JPEG_END)
    return Picture(JPEG, *size, orientation, b"".join(kept))


def _jpeg_beside(marker: int, body: bytes) -> list[bytes]:
    """Return what tells colours and density, without the small picture or text behind it."""
    if marker == _APP_JFIF and body.startswith(_JFIF) and len(body) >= _JFIF_BYTES:
        return [_jpeg_segment(marker, body[:_JFIF_BYTES] + b"\0\0")]
    if marker == _APP_COLOURS and body.startswith(_ADOBE) and len(body) >= _ADOBE_BYTES:
        return [_jpeg_segment(marker, body[:_ADOBE_BYTES])]
    return []


def _jpeg_profile(segments: list[tuple[int, bytes]]) -> list[bytes]:
    """Return the segments of the colour profile, which is cut into numbered pieces."""
    start = len(_COLOUR_PROFILE)
    pieces = sorted(
        (segment[4 + start], segment[4 + start + 2 :])
        for marker, segment in segments
        if marker == _APP_PROFILE
        and segment[4:].startswith(_COLOUR_PROFILE)
        and len(segment) > 4 + start + 1
    )
    profile = without_texts(b"".join(piece for _, piece in pieces)) or b""
    cuts = range(0, len(profile), _LONGEST_SEGMENT)
    return [
        _jpeg_segment(
            _APP_PROFILE,
            _COLOUR_PROFILE
            + bytes([number, len(cuts)])
            + profile[place : place + _LONGEST_SEGMENT],
        )
        for number, place in enumerate(cuts, 1)
    ]


def _jpeg_segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body


def _jpeg_segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield each segment with its marker up to the end of the image; pixels go with their scan."""
    place = len(_JPEG_START)
    while True:
        while data[place : place + 2] == b"\xff\xff":
            place += 1
        if data[place : place + 2] == _JPEG_END:
            return
        if len(data) < place + 4 or data[place] != 0xFF:  # noqa: PLR2004 - what every marker begins with
            raise _broken("JPEG")
        marker = data[place + 1]
        end = place + 2 + int.from_bytes(data[place + 2 : place + 4], "big")
        if marker in _TOGETHER_WITHOUT_LENGTH or not place + 4 <= end <= len(data):
            raise _broken("JPEG")
        if marker == _SCAN:
            found = _SCAN_END.search(data, end)
            if found is None:
                raise _broken("JPEG")
            end = found.start()
        yield marker, data[place:end]
        place = end


def _png(data: bytes) -> Picture:
    """Keep the chunks that make up the image, each proved by its checksum."""
    kept = [_PNG_START]
    size: tuple[int, int] | None = None
    orientation: int | None = None
    has_pixels = False
    for name, chunk in _png_chunks(data):
        body = chunk[8:-4]
        if size is None:
            if name != b"IHDR" or len(body) != 13:  # noqa: PLR2004 - the header's length
                raise _broken("PNG")
            size = struct.unpack_from(">II", body)
        if name == b"eXIf" and orientation is None:
            orientation = _orientation(body)
            if orientation is not None:
                kept.append(_png_chunk(name, _turned(orientation)))
        has_pixels = has_pixels or name == b"IDAT"
        if name == b"iCCP":
            profile = packed_without_texts(body)
            kept += [] if profile is None else [_png_chunk(name, profile)]
        elif name in _PNG_KEPT:
            kept.append(chunk)
    if size is None or not has_pixels:
        raise _broken("PNG")
    return Picture(PNG, *size, orientation, b"".join(kept))


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    place, name = len(_PNG_START), b""
    while name != b"IEND":
        end = place + 12 + int.from_bytes(data[place : place + 4], "big")
        name = data[place + 4 : place + 8]
        if len(name) != 4 or end > len(data):  # noqa: PLR2004 - a chunk's name
            raise _broken("PNG")
        if zlib.crc32(data[place + 4 : end - 4]) != int.from_bytes(data[end - 4 : end], "big"):
            raise _broken("PNG")
        yield name, data[place:end]
        place = end


def _png_chunk(name: bytes, body: bytes) -> bytes:
    checksum = zlib.crc32(name + body)
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", checksum)


def _webp(data: bytes) -> Picture:
    """Keep the chunks that make up the image, and say in the header which are still there."""
    kept: list[tuple[bytes, bytes]] = []
    size: tuple[int, int] | None = None
    orientation: int | None = None
    for name, body in _webp_chunks(data):
        if name in _WEBP_MOVING:
            raise PictureError("this is a moving picture; one that stands still is taken in")
        if size is None:
            size = _webp_size(name, body)
        if name == b"EXIF" and orientation is None:
            orientation = _orientation(body.removeprefix(_EXIF))
            if orientation is not None:
                kept.append((name, _turned(orientation)))
        elif name == b"ICCP":
            profile = without_texts(body)
            kept += [] if profile is None else [(name, profile)]
        elif name in _WEBP_KEPT:
            kept.append((name, body))
    if size is None or not {name for name, _ in kept} & {b"VP8 ", b"VP8L"}:
        raise _broken("WebP")
    inner = b"WEBP" + b"".join(
        _webp_chunk(name, _with_flags(body, kept) if name == b"VP8X" else body)
        for name, body in kept
    )
    return Picture(WEBP, *size, orientation, b"RIFF" + struct.pack("<I", len(inner)) + inner)


def _webp_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    whole = 8 + int.from_bytes(data[4:8], "little")
    place = 12
    if whole > len(data):
        raise _broken("WebP")
    while place < whole:
        length = int.from_bytes(data[place + 4 : place + 8], "little")
        end = place + 8 + length
        if end > whole:
            raise _broken("WebP")
        yield data[place : place + 4], data[place + 8 : end]
        place = end + length % 2


def _webp_chunk(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def _webp_size(name: bytes, body: bytes) -> tuple[int, int]:
    """Return the width and height that the first chunk says."""
    if name == b"VP8X" and len(body) == 10:  # noqa: PLR2004 - the extended header's length
        return int.from_bytes(body[4:7], "little") + 1, int.from_bytes(body[7:10], "little") + 1
    if name == b"VP8L" and len(body) >= 5 and body[0] == 0x2F:  # noqa: PLR2004 - its signature
        bits = int.from_bytes(body[1:5], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    if name == b"VP8 " and body[3:6] == b"\x9d\x01\x2a" and len(body) >= 10:  # noqa: PLR2004 - a key frame's header
        width, height = struct.unpack_from("<HH", body, 6)
        return width & 0x3FFF, height & 0x3FFF
    raise _broken("WebP")


def _with_flags(header: bytes, kept: list[tuple[bytes, bytes]]) -> bytes:
    """Return the extended header, which says what else is there, as it is now."""
    names = {name for name, _ in kept}
    flags = header[0] & ~(_WEBP_XMP_FLAG | _WEBP_EXIF_FLAG | _WEBP_PROFILE_FLAG)
    flags |= _WEBP_EXIF_FLAG if b"EXIF" in names else 0
    flags |= _WEBP_PROFILE_FLAG if b"ICCP" in names else 0
    return bytes([flags]) + header[1:]


def _orientation(tiff: bytes) -> int | None:
    """Return how the picture is turned, from 1 to 8, as far as that can be read."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(tiff[:4])
    if order is None:
        return None
    try:
        (place,) = struct.unpack_from(f"{order}I", tiff, 4)
        (entries,) = struct.unpack_from(f"{order}H", tiff, place)
        for entry in range(entries):
            tag, kind, _count, value = struct.unpack_from(
                f"{order}HHIH", tiff, place + 2 + 12 * entry
            )
            if tag == _ORIENTATION_TAG:
                is_known = kind == _SHORT and _UPRIGHT <= value <= _MOST_TURNED
                return value if is_known else None
    except struct.error:
        return None
    return None


def _turned(orientation: int) -> bytes:
    """Return the smallest Exif there is: how the picture is turned, and nothing else."""
    entry = struct.pack(">HHIHH", _ORIENTATION_TAG, _SHORT, 1, orientation, 0)
    return b"MM\0*" + struct.pack(">IH", 8, 1) + entry + struct.pack(">I", 0)
