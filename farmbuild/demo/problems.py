"""A problem of the invented season, with a drawing for a photo."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from math import cos, pi, sin
from typing import Any
from uuid import uuid4

from django.utils import timezone
from PIL import Image, ImageDraw, ImageFont

from farmbuild.crew.actuals.services import NOTE, record
from farmbuild.crew.people.selectors import person_of
from farmbuild.crew.problems.pictures import read_picture
from farmbuild.crew.schedule.selectors import tasks_of
from farmbuild.orgs.models import Organisation, User

_SIZE = (1200, 900)
_PAPER, _INK, _PALE, _RUST = "#f3efe4", "#2b3439", "#a9b4b9", "#9a4a12"


def enter_problem(organisation: Organisation, user: User, row: Mapping[str, Any]) -> None:
    """Something went wrong at the work of one kind at one house."""
    task = tasks_of(organisation=organisation).get(house__name=row["house"], kind=row["kind"])
    record(
        organisation=organisation,
        user=user,
        key=uuid4(),
        task=task,
        person=person_of(organisation=organisation, user=user),
        what=NOTE,
        at=timezone.now(),
        people=row["people"],
        problem=row["problem"],
        pictures=[read_picture(_drawing(row["on_the_drawing"]))],
    )


def _drawing(words: list[str]) -> bytes:
    """PNG: a hoop as it should be, thin, and one that is bent too far, on a floor of boards."""
    image = Image.new("RGB", _SIZE, _PAPER)
    pen = ImageDraw.Draw(image)
    for x in range(0, _SIZE[0], 120):
        pen.line([(x, 0), (x, _SIZE[1])], fill="#ddd5c3", width=3)
    pen.line(_hoop(420, 420), fill=_PALE, width=8, joint="curve")
    pen.line(_hoop(330, 455), fill=_INK, width=22, joint="curve")
    for at in (_hoop(330, 455)[0], _hoop(330, 455)[-1]):
        pen.ellipse([at[0] - 60, at[1] - 60, at[0] + 60, at[1] + 60], outline=_RUST, width=8)
    font = ImageFont.load_default(40)
    for line, text in enumerate(words):
        pen.text((60, 40 + 52 * line), text, fill=_INK, font=font)
    out = BytesIO()
    image.save(out, "PNG", compress_level=1)
    return out.getvalue()


def _hoop(half_span: float, rise: float) -> list[tuple[float, float]]:
    middle, ground = _SIZE[0] / 2, 820
    turns = (pi * part / 60 for part in range(61))
    return [(middle - half_span * cos(turn), ground - rise * sin(turn)) for turn in turns]
