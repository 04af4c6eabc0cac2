"""A bending sheet as a PDF: one page, the same bytes for the same sheet."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any

import typst
from django.utils.translation import get_language, gettext

from farmbuild.common.paper import drawing_for_paper
from farmbuild.hoops.batches.bending_sheet import BendingSheet
from farmbuild.hoops.recipes.stick_strip import PAPER, POINTS

_LAYOUT = Path(__file__).with_name("sheet.typ")


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def _words(sheet: BendingSheet) -> dict[str, Any]:
    """What the layout says by itself, in the language in force."""
    end = {"end": sheet.end}
    return {
        "lang": get_language(),
        "lever": gettext("lever"),
        "to_scale": gettext("The hoop to scale"),
        "stick": gettext("One stick to scale, the %(end)s on the left: it goes in first.") % end,
        "marks": gettext("Marks from the %(end)s") % end,
        "from_here": gettext("(mark at each; “%(lever)s”: slide the lever bar on from there)")
        % {"lever": gettext("lever")},
        "headings": [gettext("Gap at last pull") if at == 3 else said for at, said in enumerate(sheet.headings)],
        "bent": gettext("Hoops bent"),
        "tick": gettext("(tick each; the first is the trial hoop)"),
        "strokes": gettext("(strokes; the first is the trial hoop)"),
        "of": gettext("of %(hoops)s") % {"hoops": sheet.hoops},
        "practice": gettext("Practice of the trade, no source."),
        "name": gettext("Name"),
        "date": gettext("Date"),
    }


def sheet_pdf(sheet: BendingSheet, *, foot: str) -> bytes:
    """``foot``: who printed it and when. What is typed by people goes in as data, never as layout."""
    data = asdict(sheet) | {"hoops_to_scale": [drawing_for_paper(svg) for svg in sheet.hoops_to_scale], "foot": foot}
    data["stick"] |= {"rem": POINTS, "letter": PAPER.letter}
    data["words"] = _words(sheet)
    data["cautions"] = [
        [gettext("Caution: %(about)s") % {"about": caution.about}, caution.words] for caution in sheet.cautions
    ]
    # The fonts of the wheel only, and no clock: the same bytes on every machine.
    return typst.compile(_layout(), format="pdf", sys_inputs={"sheet": json.dumps(data)}, ignore_system_fonts=True)
