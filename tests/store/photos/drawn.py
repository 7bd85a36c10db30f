"""Small pictures with what a camera writes beside them; drawn here, of nothing."""

from __future__ import annotations

import struct
import zlib

PLACE = b"52 deg 11 min north, at home"


def png(colour: int = 90, *, wide: int = 3) -> bytes:
    """Give a picture in one colour, with a text and its camera's tags beside."""
    rows = b"".join(b"\0" + bytes([colour, 80, 60]) * wide for _ in range(2))
    head = struct.pack(">IIBBBBB", wide, 2, 8, 2, 0, 0, 0)
    chunks = [
        (b"IHDR", head),
        (b"tEXt", b"where\0" + PLACE),
        (b"eXIf", b"II*\0" + PLACE),
        (b"IDAT", zlib.compress(rows)),
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(*each) for each in [*chunks, (b"IEND", b"")]) + PLACE


def _chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def jpeg(*, turned: int = 6) -> bytes:
    """Give the segments of a picture (its data are no picture), turned, with place, comment and a second one behind."""
    tags = b"II*\0" + struct.pack("<IH", 8, 1) + struct.pack("<HHIHH", 0x0112, 3, 1, turned, 0) + bytes(4) + PLACE
    return b"".join(
        [
            b"\xff\xd8",
            _segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\1\1" + b"cut"),
            _segment(0xE0, b"JFXX\0" + PLACE),
            _segment(0xE1, b"Exif\0\0" + tags),
            _segment(0xE1, b"http://names.example/1.0/\0" + PLACE),
            _segment(0xE2, b"MPF\0" + PLACE),
            _segment(0xED, b"notes 3.0\0" + PLACE),
            _segment(0xFE, PLACE),
            _segment(0xDB, bytes(65)),
            _segment(0xC2, bytes(15)),
            _segment(0xDA, bytes(10)),
            b"first\xff\x00more\xff\xd0first",
            # between two scans a picture may say anything once more
            _segment(0xE1, b"Exif\0\0" + tags),
            _segment(0xFE, PLACE),
            _segment(0xC4, bytes(20)),
            _segment(0xDA, bytes(10)),
            b"data\xff\x00more\xff\xd0data",
            b"\xff\xd9",
            b"\xff\xd8 a second picture " + PLACE + b"\xff\xd9",
        ]
    )


def _segment(marker: int, content: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(content) + 2) + content


def webp() -> bytes:
    """Give the chunks of a picture, with tags and a description beside."""
    flags = bytes([0b00001100]) + bytes(9)
    chunks = [(b"VP8X", flags), (b"VP8L", b"data!"), (b"EXIF", PLACE), (b"XMP ", PLACE)]
    body = b"WEBP" + b"".join(n + struct.pack("<I", len(c)) + c + b"\0" * (len(c) % 2) for n, c in chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body
