"""What a picture keeps and what it loses. The layouts are those of ITU-T T.81, the PNG specification and RFC 9649."""

from __future__ import annotations

import struct
import zlib

import pytest

from tests.store.photos.drawn import PLACE, jpeg, png, webp
from wearstats.store.photos.pictures import NoPictureError, bare, kind_of


@pytest.mark.parametrize(("content", "kind"), [(jpeg(), "jpg"), (png(), "png"), (webp(), "webp")])
def test_nothing_but_the_picture_is_kept(content: bytes, kind: str) -> None:
    kept = bare(content)
    assert kind_of(content) == kind_of(kept) == kind
    assert PLACE not in kept
    assert bare(kept) == kept


def test_a_jpeg_keeps_its_data_its_colours_and_which_way_up_it_is() -> None:
    kept = bare(jpeg())
    # without the small picture that may stand beside it
    assert b"\xff\xe0\0\x10JFIF\0\1\1\0\0\1\0\1\0\0\xff" in kept
    assert b"JFXX" not in kept
    assert b"first\xff\x00more\xff\xd0first\xff\xc4" in kept
    assert kept.endswith(b"data\xff\x00more\xff\xd0data\xff\xd9")
    assert b"MPF" not in kept
    assert b"second" not in kept
    # Exif in network order: one entry, 0x0112, short, 1, 6
    assert b"Exif\0\0MM\0*" + struct.pack(">IHHHIHH", 8, 1, 0x0112, 3, 1, 6, 0) in kept
    assert b"Exif" not in bare(jpeg(turned=1))
    assert b"Exif" not in bare(jpeg(turned=99))


def test_a_png_keeps_its_lines() -> None:
    kept = bare(png(7))
    at = kept.index(b"IDAT")
    (size,) = struct.unpack(">I", kept[at - 4 : at])
    assert zlib.decompress(kept[at + 4 : at + 4 + size]) == (b"\0" + bytes([7, 80, 60]) * 3) * 2
    assert kept.endswith(b"IEND\xaeB`\x82")


def test_a_webp_says_no_more_that_it_has_tags() -> None:
    kept = bare(webp())
    at = kept.index(b"VP8X")
    assert kept[at + 8] & 0b00001100 == 0
    assert struct.unpack("<I", kept[4:8])[0] == len(kept) - 8


@pytest.mark.parametrize("whole", [jpeg(), png(), webp()])
def test_a_picture_that_ends_too_early_is_refused(whole: bytes) -> None:
    end = whole.rfind(b"\xff\xd9", 0, whole.find(b"\xff\xd9") + 2) if whole.startswith(b"\xff\xd8") else len(whole) - 40
    for cut in range(12, max(end, 13)):
        with pytest.raises(NoPictureError):
            bare(whole[:cut])


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (png().replace(b"IDAT", b"tEXt", 1), "sum"),
        (png()[:60] + bytes([png()[60] ^ 1]) + png()[61:], "sum"),
        (jpeg().replace(b"\xff\xc2", b"\xff\xc4"), "no picture"),
        (webp().replace(b"VP8L", b"VP8Q"), "no picture"),
    ],
)
def test_what_draws_nothing_or_is_damaged_is_no_photo(content: bytes, why: str) -> None:
    with pytest.raises(NoPictureError, match=why):
        bare(content)


@pytest.mark.parametrize(
    "content", [b"", b"GIF89a....", b"<svg onload=run()>", b"%PDF-1.7", b"\xff\xd8", b"RIFF\0\0\0\0WAVE"]
)
def test_what_is_no_picture_is_refused_whatever_it_is_called(content: bytes) -> None:
    with pytest.raises(NoPictureError):
        bare(content)
