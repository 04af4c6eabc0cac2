"""A photo from a phone made small, upright and free of all it says besides the picture."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from io import BytesIO

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy
from PIL import Image, ImageOps

from farmbuild.measure import format_decimal

#: The browser sends about half a megabyte; whole files come only where it could not make them smaller.
MAX_BYTES = 20 * 1024**2
#: About 8160 x 6120, the usual full size of a phone's camera (from memory). Unpacked that is 200 MB for a moment.
MAX_PIXELS = 50_000_000
#: Longest side of what is kept and of its small form, in pixels.
LONGEST, SMALL = 1600, 320
QUALITY, SMALL_QUALITY = 80, 70
FORMATS = ("JPEG", "PNG", "WEBP")

#: ISO/IEC 14496-12: a file of this family says ``ftyp`` and its brand from the fifth byte on; brands from
#: ISO/IEC 23008-12 (HEIF).
_HEIF = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
#: What the decoders raise on broken files. MemoryError: a size that is declared and never there.
_BROKEN = (OSError, SyntaxError, ValueError, EOFError, struct.error, IndexError, KeyError, TypeError, MemoryError)


@dataclass(frozen=True)
class Picture:
    """JPEG bytes of a photo and of its small form; ``width`` and ``height`` of the photo in pixels."""

    data: bytes
    thumbnail: bytes
    width: int
    height: int


def read_picture(data: bytes, name: str = gettext_lazy("This photo")) -> Picture:
    """Decode ``data`` (JPEG, PNG or WebP) and encode it anew: upright as its EXIF orientation (tag 0x0112) says, at
    most LONGEST pixels long, without EXIF, GPS, XMP, ICC, comments or anything else that came with it.

    ``name`` is how the photo is called in errors. Raises ValidationError in a sentence.
    """
    if not data:
        raise ValidationError(gettext("%(name)s is empty. Take it again.") % {"name": name})
    if len(data) > MAX_BYTES:
        raise ValidationError(
            gettext("%(name)s is larger than %(most)s MB. Take it with a smaller picture size.")
            % {"name": name, "most": MAX_BYTES // 1024**2}
        )
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF:
        raise ValidationError(
            gettext(
                "%(name)s is in the HEIC format, which cannot be read here. Set the camera to JPEG (on an "
                "iPhone: Settings, Camera, Formats, Most Compatible) and take it again, or send a screenshot "
                "of it."
            )
            % {"name": name}
        )
    image = _opened(data, name)
    if image.width * image.height > MAX_PIXELS:
        raise ValidationError(
            gettext(
                "%(name)s has %(width)s million pixels; up to %(most)s million can be read. Take it "
                "with a smaller picture size."
            )
            % {
                "name": name,
                "width": format_decimal(image.width * image.height / 1e6, 0),
                "most": MAX_PIXELS // 10**6,
            }
        )
    try:
        # Before turning, so that a JPEG is decoded at a fraction of its size.
        image.thumbnail((LONGEST, LONGEST), Image.Resampling.LANCZOS, reducing_gap=2.0)
        plain = _on_white(ImageOps.exif_transpose(image))
        return Picture(_jpeg(plain, QUALITY), _jpeg(_small(plain), SMALL_QUALITY), plain.width, plain.height)
    except _BROKEN as error:
        raise ValidationError(
            gettext("%(name)s is damaged and cannot be read to its end. Take it again.") % {"name": name}
        ) from error


def _opened(data: bytes, name: str) -> Image.Image:
    try:
        return Image.open(BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError as error:
        raise ValidationError(
            gettext("%(name)s has far more pixels than can be read. Take it with a smaller picture size.")
            % {"name": name}
        ) from error
    except _BROKEN as error:
        raise ValidationError(
            gettext("%(name)s is no JPEG, PNG or WebP picture. Choose a photo.") % {"name": name}
        ) from error


def _on_white(image: Image.Image) -> Image.Image:
    """A new image with nothing but the pixels; what is clear becomes white."""
    if image.mode.startswith("I"):
        # Sixteen bits a pixel; the upper eight are what is seen.
        image = image.convert("I").point(lambda value: value / 256).convert("L")
    plain = Image.new("RGB", image.size, "white")
    if image.has_transparency_data:
        image = image.convert("RGBA")
        plain.paste(image, mask=image)
    else:
        plain.paste(image.convert("RGB"))
    return plain


def _small(image: Image.Image) -> Image.Image:
    small = image.copy()
    small.thumbnail((SMALL, SMALL), Image.Resampling.LANCZOS)
    return small


def _jpeg(image: Image.Image, quality: int) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()
