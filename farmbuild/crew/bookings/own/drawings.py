"""Days of benders as a member sees them: filled where taken, plain and linked where they are its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.crew.bookings.drawings import ROWS, box, frame
from farmbuild.crew.bookings.own.selectors import Stretch
from farmbuild.hoops.benders.models import Bender

#: Days that leave room for a word.
WIDE = 3


def day_sheets(
    benders: Sequence[Bender], stretches: Mapping[int, Sequence[Stretch]], start: date, today: date, lender: str
) -> list[SafeString]:
    """One drawing for each nine benders. ``lender``: slug of the cooperative."""
    return [_sheet(benders[at : at + ROWS], stretches, start, today, lender) for at in range(0, len(benders), ROWS)]


def told_of(bender: Bender, stretches: Mapping[int, Sequence[Stretch]]) -> str:
    free = gettext("free on all these days")
    return f"{bender}: {'; '.join(row.words for row in stretches[bender.pk]) or free}"


def _sheet(
    benders: Sequence[Bender], stretches: Mapping[int, Sequence[Stretch]], start: date, today: date, lender: str
) -> SafeString:
    told = ". ".join(told_of(bender, stretches) for bender in benders)
    drawing, bases = frame(benders, start, today, gettext("Days of the benders"), told)
    for bender, base in zip(benders, bases, strict=True):
        for row in stretches[bender.pk]:
            if row.booking:
                with drawing.link(reverse("crew:own-booking", args=[lender, row.booking.pk]), f"{bender}, {row.words}"):
                    middle = box(drawing, base, start, row.first, row.last, "ink")
                    if (row.last - row.first).days >= WIDE:
                        drawing.text(middle, base + 8, gettext("yours"))
            else:
                box(drawing, base, start, row.first, row.last, "fill")
    return drawing.svg()
