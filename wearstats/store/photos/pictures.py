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
import zlib
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
_JPEG_FRAMES: Final = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
"""Segments that begin a picture [1]_, table B.1."""
_WEBP_KEPT: Final = frozenset({b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ICCP", b"ANIM", b"ANMF"})
_WEBP_DRAWN: Final = frozenset({b"VP8 ", b"VP8L", b"ANMF"})
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
    """Keep the segments that make the picture, and its scans, up to the first end of a picture.

    Of what follows it (a small second one, a film) nothing is kept.
    """
    kept, at, turned, drawn = [b"\xff\xd8"], 2, 1, False
    while True:
        if content[at] != 0xFF:
            raise NoPictureError("is damaged: no marker where one must be")
        marker = content[at + 1]
        if marker == 0xFF:  # a filling byte
            at += 1
            continue
        if marker == 0xD9:
            break
        (size,) = struct.unpack_from(">H", content, at + 2)
        segment = content[at : at + 2 + size]
        if size < 2 or len(segment) < 2 + size:
            raise NoPictureError("ends too early")
        at += 2 + size
        drawn |= marker in _JPEG_FRAMES
        if marker == 0xE1 and segment[4:10] == b"Exif\0\0":
            turned = _turned(segment[10:])
        else:
            kept += _kept_segment(marker, segment)
        if marker == 0xDA:
            end = _end_of_scan(content, at)
            kept.append(content[at:end])
            at = end
    if not drawn:
        raise NoPictureError("has no picture in it")
    if turned != 1:
        kept.insert(1, _only_turned(turned))
    return b"".join(kept) + b"\xff\xd9"


def _kept_segment(marker: int, segment: bytes) -> list[bytes]:
    """Give a segment as it is kept, if it is: what draws, and what says how colours are meant."""
    if marker == 0xE0:
        # without the small picture that may stand in it, which shows what was cut off
        return [segment[:2] + b"\0\x10" + segment[4:16] + b"\0\0"] if segment[4:9] == b"JFIF\0" else []
    if marker == 0xE2:
        return [segment] if segment[4:15] == b"ICC_PROFILE" else []
    return [segment] if marker == 0xEE or not (0xE0 <= marker <= 0xEF or marker == 0xFE) else []


def _end_of_scan(content: bytes, at: int) -> int:
    """Find the marker that ends a scan's data: one that is neither a stuffed byte nor a restart."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            raise NoPictureError("ends too early")
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
        elif marker == 0x00 or 0xD0 <= marker <= 0xD7:
            at += 2
        else:
            return at


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
    kept, at, names = [_PNG], len(_PNG), []
    while True:
        (size,) = struct.unpack_from(">I", content, at)
        name, chunk = content[at + 4 : at + 8], content[at : at + 12 + size]
        if len(chunk) < 12 + size:
            raise NoPictureError("ends too early")
        if struct.pack(">I", zlib.crc32(chunk[4:-4])) != chunk[-4:]:
            raise NoPictureError("is damaged: a part does not give its own sum")
        names.append(name)
        if name in _PNG_KEPT:
            kept.append(chunk)
        if name == b"IEND":
            break
        at += 12 + size
    if names[0] != b"IHDR" or b"IDAT" not in names:
        raise NoPictureError("has no picture in it")
    return b"".join(kept)


def _bare_webp(content: bytes) -> bytes:
    kept, at = [], 12
    (size,) = struct.unpack_from("<I", content, 4)
    end = size + 8
    if len(content) < end:
        raise NoPictureError("ends too early")
    while at + 8 <= end:
        (length,) = struct.unpack_from("<I", content, at + 4)
        name, chunk = content[at : at + 4], content[at : at + 8 + length + length % 2]
        if at + 8 + length > end:
            raise NoPictureError("ends too early")
        if name == b"VP8X":
            chunk = chunk[:8] + bytes([chunk[8] & ~_WEBP_TOLD]) + chunk[9:]
        if name in _WEBP_KEPT:
            kept.append(chunk)
        at += 8 + length + length % 2
    if not any(chunk[:4] in _WEBP_DRAWN for chunk in kept):
        raise NoPictureError("has no picture in it")
    body = b"WEBP" + b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(body)) + body
