"""Pictures as cameras write them, made here; and a problem with photos."""

from __future__ import annotations

from io import BytesIO
from uuid import uuid4

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from farmbuild.crew.actuals.services import record
from farmbuild.crew.problems.pictures import read_picture

#: In the metadata of ``a_photo`` only; must be nowhere in what is kept.
MAKER, COMMENT, PLACE = b"InventedMaker", b"InventedComment", b"InventedPlace"
#: EXIF 2.32: Make, Orientation, the pointer to GPS, and in it the reference of latitude and the area's name.
MAKE, ORIENTATION, GPS, LATITUDE_REF, LATITUDE, AREA = 0x010F, 0x0112, 0x8825, 1, 2, 28


def quarters(size=(400, 300), mode="RGB") -> Image.Image:
    """Upper left red, upper right green, lower left blue, lower right white: which way is up can be seen."""
    wide, high = size
    image = Image.new("RGB", size, "white")
    image.paste("red", (0, 0, wide // 2, high // 2))
    image.paste("lime", (wide // 2, 0, wide, high // 2))
    image.paste("blue", (0, high // 2, wide // 2, high))
    return image.convert(mode)


def exif(orientation=1) -> Image.Exif:
    found = Image.Exif()
    found[MAKE] = MAKER.decode()
    found[ORIENTATION] = orientation
    found[GPS] = {LATITUDE_REF: "N", LATITUDE: (44.0, 30.0, 15.0), AREA: b"ASCII\0\0\0" + PLACE}
    return found


def encoded(image: Image.Image, format="JPEG", **options) -> bytes:
    out = BytesIO()
    image.save(out, format, **options)
    return out.getvalue()


def a_photo(size=(400, 300), orientation=1) -> bytes:
    """JPEG as a phone writes it, with its maker, where it was and a comment."""
    return encoded(quarters(size), exif=exif(orientation), comment=COMMENT)


def upload(data=None, name="field.jpg", kind="image/jpeg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, a_photo() if data is None else data, kind)


def a_problem(person, task, words="bent the wrong way", *, photos=1, user=None, what="stop", key=None, at=None):
    """Recorded work with a problem and ``photos`` photos."""
    return record(
        organisation=task.organisation,
        user=user,
        key=key or uuid4(),
        task=task,
        person=person,
        what=what,
        at=at or timezone.now(),
        problem=words,
        pictures=[read_picture(a_photo()) for _ in range(photos)],
    )
