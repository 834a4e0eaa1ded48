"""A colour profile without its texts (ICC.1:2022): makers and people write in it what they like.

What is no colour is blanked where it stands, so that no offset of the profile changes.
"""

from __future__ import annotations

import struct
import zlib

MOST_BYTES = 4 * 1024 * 1024
_HEADER_BYTES = 128
_PROFILE_ID = slice(84, 100)  # a checksum over the texts too; zeros say that there is none
_TYPE_BYTES = 8
_MOST_TAGS = 200
_COLOURS = frozenset(
    {b"XYZ ", b"mAB ", b"mBA ", b"sig "}.union(
        b"chrm cicp curv para mft1 mft2 mpet meas sf32 uf32 ui08 ui16 view".split()
    )
)


def without_texts(profile: bytes) -> bytes | None:
    """Return a profile that holds colours only; None for one that is not whole."""
    try:
        (count,) = struct.unpack_from(">I", profile, _HEADER_BYTES)
        if count > _MOST_TAGS or len(profile) > MOST_BYTES:
            return None
        table = _HEADER_BYTES + 4 + 12 * count
        tags = [
            struct.unpack_from(">4sII", profile, _HEADER_BYTES + 4 + 12 * number)[1:]
            for number in range(count)
        ]
    except struct.error:
        return None
    kept = bytearray(len(profile))
    kept[:table] = profile[:table]
    kept[_PROFILE_ID] = bytes(16)
    for start, length in tags:
        end = start + length
        if start < table or length < _TYPE_BYTES or end > len(profile):
            return None
        if profile[start : start + 4] not in _COLOURS:
            end = start + _TYPE_BYTES
        kept[start:end] = profile[start:end]
    return bytes(kept)


def packed_without_texts(body: bytes) -> bytes | None:
    """Return what a PNG keeps a profile in: a name, a method, the packed profile."""
    _, _, packed = body.partition(b"\0")
    try:
        profile = zlib.decompressobj().decompress(packed[1:], MOST_BYTES + 1)
    except zlib.error:
        return None
    kept = without_texts(profile)
    return None if kept is None else b"profile\0\0" + zlib.compress(kept)
