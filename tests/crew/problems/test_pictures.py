"""What is kept of a photo, read back with Pillow; and what is refused, in which words."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import pytest
from django.core.exceptions import ValidationError
from PIL import Image

from farmbuild.crew.problems import pictures
from farmbuild.crew.problems.pictures import LONGEST, SMALL, read_picture
from tests.crew.problems.making import COMMENT, MAKER, PLACE, a_photo, encoded, exif, quarters

#: Where each quarter of ``quarters`` comes to lie when a camera wrote it with this orientation (EXIF 2.32, 0x0112:
#: where row 0 and column 0 of what is stored are seen): upper left, upper right, lower left.
SEEN = {
    1: ("red", "lime", "blue"),
    2: ("lime", "red", "white"),
    3: ("white", "blue", "lime"),
    4: ("blue", "white", "red"),
    5: ("red", "blue", "lime"),
    6: ("blue", "red", "white"),
    7: ("white", "lime", "blue"),
    8: ("lime", "white", "red"),
}
COLOURS = {"red": (255, 0, 0), "lime": (0, 255, 0), "blue": (0, 0, 255), "white": (255, 255, 255)}


def opened(data: bytes) -> Image.Image:
    image = Image.open(BytesIO(data))
    image.load()
    return image


def colour_at(image: Image.Image, across: float, down: float) -> str:
    seen = image.getpixel((int(image.width * across), int(image.height * down)))
    return min(COLOURS, key=lambda name: sum((a - b) ** 2 for a, b in zip(COLOURS[name], seen, strict=True)))


@pytest.mark.parametrize("orientation", SEEN)
def test_a_photo_stands_upright_whichever_way_the_camera_was_held(orientation):
    picture = read_picture(a_photo(orientation=orientation))
    turned = orientation > 4
    assert (picture.width, picture.height) == ((300, 400) if turned else (400, 300))
    for data in (picture.data, picture.thumbnail):
        image = opened(data)
        assert (image.height > image.width) == turned
        assert tuple(colour_at(image, *at) for at in ((0.25, 0.25), (0.75, 0.25), (0.25, 0.75))) == SEEN[orientation]


def test_nothing_but_the_pixels_is_kept():
    sent = a_photo(orientation=6)
    # The test would be empty if these were not in what is sent.
    assert all(mark in sent for mark in (MAKER, COMMENT, PLACE, b"Exif"))
    picture = read_picture(sent)
    for data in (picture.data, picture.thumbnail):
        image = opened(data)
        assert image.format == "JPEG" and not dict(image.getexif())
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        for mark in (MAKER, COMMENT, PLACE, b"Exif", b"http://ns.adobe.com", b"ICC_PROFILE"):
            assert mark not in data


@pytest.mark.parametrize("format", ["PNG", "WEBP"])
def test_other_formats_become_the_same(format):
    sent = encoded(quarters(), format, exif=exif(6), xmp=b"<x>" + COMMENT + b"</x>")
    assert MAKER in sent and PLACE in sent
    picture = read_picture(sent)
    image = opened(picture.data)
    assert image.format == "JPEG" and image.size == (300, 400) and colour_at(image, 0.75, 0.25) == "red"
    assert not any(mark in picture.data for mark in (MAKER, PLACE, COMMENT, b"Exif"))


def test_a_jpeg_of_several_pictures_gives_its_first():
    """CIPA DC-007: phones put a second picture behind the first."""
    sent = encoded(quarters(), "MPO", save_all=True, append_images=[Image.new("RGB", (400, 300), "black")])
    image = opened(read_picture(sent).data)
    assert image.size == (400, 300) and colour_at(image, 0.25, 0.25) == "red"


@pytest.mark.parametrize(("size", "kept"), [((3200, 1200), (1600, 600)), ((1200, 4800), (400, 1600)), ((9, 5), (9, 5))])
def test_large_photos_are_made_smaller_and_small_ones_left(size, kept):
    picture = read_picture(a_photo(size=size))
    assert (picture.width, picture.height) == opened(picture.data).size == kept
    small = opened(picture.thumbnail)
    assert max(small.size) == min(SMALL, max(size)) and max(kept) <= LONGEST
    assert len(picture.data) < 400_000


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "1", "I;16"])
def test_pictures_of_other_kinds_of_pixels_are_read(mode):
    image = Image.new(mode, (40, 30), 65535 if mode == "I;16" else 0)
    seen = opened(read_picture(encoded(image, "PNG")).data).getpixel((20, 15))
    # What is clear becomes the white of paper.
    assert seen == ((255, 255, 255) if mode in ("LA", "RGBA", "I;16") else (0, 0, 0))


def bomb(side: int) -> bytes:
    """A true PNG (W3C PNG, third edition) that declares ``side`` x ``side`` pixels of one bit, in a few kilobytes."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes(min(side, 2000) * (1 + side // 8)), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize(("side", "words"), [(8000, "64 million pixels; up to 50"), (60_000, "far more pixels")])
def test_a_picture_that_would_fill_the_memory_is_refused_unread(side, words, monkeypatch):
    sent = bomb(side)
    assert len(sent) < 100_000
    monkeypatch.setattr(Image.Image, "thumbnail", lambda *_, **__: pytest.fail("it was unpacked"))
    with pytest.raises(ValidationError, match=words) as refused:
        read_picture(sent, "“yard.png”")
    assert refused.value.messages[0].startswith("“yard.png” has") and "smaller picture size" in str(refused.value)


def test_a_file_of_too_many_bytes_is_refused_unread(monkeypatch):
    monkeypatch.setattr(pictures, "MAX_BYTES", 10 * 1024**2)
    with pytest.raises(ValidationError, match="larger than 10 MB"):
        read_picture(b"\xff\xd8" + bytes(10 * 1024**2))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"%PDF-1.7 something", "no JPEG, PNG or WebP"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "no JPEG, PNG or WebP"),
        (encoded(quarters(), "GIF"), "no JPEG, PNG or WebP"),
        (encoded(quarters(), "TIFF"), "no JPEG, PNG or WebP"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIC format.*Set the camera to JPEG"),
        (a_photo()[:3], "no JPEG, PNG or WebP"),
        (a_photo((2000, 1500))[:9000], "damaged"),
        (encoded(Image.effect_noise((300, 300), 90), "PNG")[:9000], "damaged"),
        (b"\x89PNG\r\n\x1a\n" + bytes(50), "no JPEG, PNG or WebP|damaged"),
    ],
    ids=["empty", "pdf", "svg", "gif", "tiff", "heic", "stub", "cut jpeg", "cut png", "no png"],
)
def test_what_is_no_whole_photo_is_refused_in_a_sentence(data, words):
    with pytest.raises(ValidationError, match=words):
        read_picture(data)


def test_no_cut_of_a_photo_ends_in_anything_but_a_sentence():
    whole = {
        "jpeg": a_photo((600, 400)),
        "png": encoded(quarters((90, 60)), "PNG"),
        "webp": encoded(quarters(), "WEBP"),
    }
    for data in whole.values():
        for end in range(0, len(data), max(1, len(data) // 60)):
            spoilt = data[:end] + bytes(8) + data[end + 8 :]
            for sent in (data[:end], spoilt):
                try:
                    picture = read_picture(sent)
                except ValidationError as error:
                    assert error.messages[0].startswith("This photo")
                else:
                    assert opened(picture.data).format == "JPEG"
