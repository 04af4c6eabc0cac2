"""A bending sheet as a PDF: one page, the same bytes for the same sheet."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from pathlib import Path

import typst

from farmbuild.common.paper import drawing_for_paper
from farmbuild.hoops.batches.bending_sheet import BendingSheet
from farmbuild.hoops.recipes.stick_strip import PAPER, POINTS

_LAYOUT = Path(__file__).with_name("sheet.typ")


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def sheet_pdf(sheet: BendingSheet, *, foot: str) -> bytes:
    """``foot``: who printed it and when. What is typed by people goes in as data, never as layout."""
    data = asdict(sheet) | {"hoops_to_scale": [drawing_for_paper(svg) for svg in sheet.hoops_to_scale], "foot": foot}
    data["stick"] |= {"rem": POINTS, "letter": PAPER.letter}
    data["cautions"] = [[caution.about, caution.words] for caution in sheet.cautions]
    # The fonts of the wheel only, and no clock: the same bytes on every machine.
    return typst.compile(_layout(), format="pdf", sys_inputs={"sheet": json.dumps(data)}, ignore_system_fonts=True)
