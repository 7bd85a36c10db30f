"""What kind of picture some bytes are, told by the bytes themselves; and all that is no picture taken out of them.

A telephone writes the place, the day, its own name and more into a picture. None of it is needed here, and it says more
of an owner than he meant to send: only which way up the picture is stays. The picture itself is not touched, so nothing
is lost by keeping it.

References
----------
.. [1] ITU-T T.81 (JPEG), annex B: markers and segments.
.. [2] W3C, PNG specification, third edition: chunks.
.. [3] RFC 9649, WebP image format: RIFF chunks.
"""

from __future__ import annotations

import struct
from typing import Final

_PNG: Final = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT: Final = frozenset(
    {
        b"IHDR",
        b"PLTE",
        b"IDAT",
        b"IEND",
        b"tRNS",
        b"gAMA",
        b"cHRM",
        b"sRGB",
        b"iCCP",
        b"sBIT",
        b"cICP",
        b"pHYs",
        b"bKGD",
    }
)
_JPEG_KEPT: Final = frozenset({0xE0, 0xE2, 0xEE})
"""Of the segments for programs those that say how colours are meant: 0, 2 (but for what is no colour profile), 14."""
_WEBP_KEPT: Final = frozenset({b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ICCP", b"ANIM", b"ANMF"})
_WEBP_TOLD: Final = 0b00001100
"""Flags of the extended header that say that there is metadata."""


class NoPictureError(ValueError):
    """Bytes that are no whole picture of a kind that is kept."""


def kind_of(content: bytes) -> str | None:
    """Tell what kind of picture bytes are: ``jpg``, ``png``, ``webp``; None where they are none of these."""
    if content.startswith(b"\xff\xd8\xff"):
        return "jpg"
    if content.startswith(_PNG):
        return "png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "webp"
    return None


def bare(content: bytes) -> bytes:
    """Give a picture without what a camera writes beside it.

    Raises
    ------
    NoPictureError
        Where the bytes are of no kind that is kept, or end too early.
    """
    kind = kind_of(content)
    try:
        if kind == "jpg":
            return _bare_jpeg(content)
        if kind == "png":
            return _bare_png(content)
        if kind == "webp":
            return _bare_webp(content)
    except (struct.error, IndexError) as cut:
        raise NoPictureError("ends too early") from cut
    raise NoPictureError("is no JPEG, PNG or WebP picture by its first bytes")


def _bare_jpeg(content: bytes) -> bytes:
    """Keep the segments that make the picture, up to the end of its data."""
    kept, at, turned = [b"\xff\xd8"], 2, 1
    while True:
        if content[at] != 0xFF:
            raise NoPictureError("is damaged: no marker where one must be")
        marker = content[at + 1]
        if marker == 0xFF:  # a filling byte
            at += 1
            continue
        (size,) = struct.unpack_from(">H", content, at + 2)
        segment = content[at : at + 2 + size]
        if size < 2 or len(segment) < 2 + size:
            raise NoPictureError("ends too early")
        at += 2 + size
        if marker == 0xE1 and segment[4:10] == b"Exif\0\0":
            turned = _turned(segment[10:])
        elif (not 0xE0 <= marker <= 0xEF and marker != 0xFE) or (
            marker in _JPEG_KEPT and (marker != 0xE2 or segment[4:15] == b"ICC_PROFILE")
        ):
            kept.append(segment)
        if marker == 0xDA:
            break
    # of what follows the picture (a small second one, a film) nothing is kept
    end = content.rfind(b"\xff\xd9", at) if (first := _end_of_scans(content, at)) is None else first
    if end < 0:
        raise NoPictureError("ends too early")
    if turned != 1:
        kept.insert(1, _only_turned(turned))
    return b"".join(kept) + content[at : end + 2]


def _end_of_scans(content: bytes, at: int) -> int | None:
    """Find the end of the picture's data: the first end marker outside a segment between two scans."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            return None
        marker = content[at + 1]
        if marker == 0xD9:
            return at
        if marker == 0x00 or 0xD0 <= marker <= 0xD7:
            at += 2
        elif marker == 0xFF:
            at += 1
        else:
            (size,) = struct.unpack_from(">H", content, at + 2)
            at += 2 + size


def _turned(tags: bytes) -> int:
    """Read which way up a picture is, 1 to 8; 1 where nothing sound says otherwise."""
    order = {b"II": "<", b"MM": ">"}.get(tags[:2])
    if order is None:
        return 1
    try:
        (start,) = struct.unpack_from(f"{order}I", tags, 4)
        (count,) = struct.unpack_from(f"{order}H", tags, start)
        for entry in range(count):
            tag, kind, _, value = struct.unpack_from(f"{order}HHIH", tags, start + 2 + 12 * entry)
            if tag == 0x0112 and kind == 3 and 1 <= value <= 8:
                return int(value)
    except struct.error:
        return 1
    return 1


def _only_turned(turned: int) -> bytes:
    """Write a segment that says which way up a picture is and nothing else."""
    tags = b"Exif\0\0MM\0*" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, turned, 0, 0)
    return b"\xff\xe1" + struct.pack(">H", len(tags) + 2) + tags


def _bare_png(content: bytes) -> bytes:
    kept, at = [_PNG], len(_PNG)
    while True:
        (size,) = struct.unpack_from(">I", content, at)
        name, chunk = content[at + 4 : at + 8], content[at : at + 12 + size]
        if len(chunk) < 12 + size:
            raise NoPictureError("ends too early")
        if name in _PNG_KEPT:
            kept.append(chunk)
        if name == b"IEND":
            return b"".join(kept)
        at += 12 + size


def _bare_webp(content: bytes) -> bytes:
    kept, at = [], 12
    (size,) = struct.unpack_from("<I", content, 4)
    end = size + 8
    if len(content) < end:
        raise NoPictureError("ends too early")
    while at + 8 <= end:
        (length,) = struct.unpack_from("<I", content, at + 4)
        name, chunk = content[at : at + 4], content[at : at + 8 + length + length % 2]
        if name == b"VP8X":
            chunk = chunk[:8] + bytes([chunk[8] & ~_WEBP_TOLD]) + chunk[9:]
        if name in _WEBP_KEPT:
            kept.append(chunk)
        at += 8 + length + length % 2
    body = b"WEBP" + b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(body)) + body
