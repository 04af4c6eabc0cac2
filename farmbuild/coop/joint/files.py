"""The list by which pieces are handed out, as PDF and workbook; no prices, and the same bytes for the same list."""

from __future__ import annotations

import json
from functools import cache
from itertools import groupby
from pathlib import Path

import typst

from farmbuild.coop.joint.bridge import item_words
from farmbuild.coop.joint.handing import handing_of
from farmbuild.coop.models import JointOrder
from farmbuild.measure import UnitSystem, format_count
from farmbuild.orgs.clock import today_of
from farmbuild.workbooks.handing import HandingLine, handing_workbook

_LAYOUT = Path(__file__).with_name("handing.typ")
#: Letters up to here come with the program: Latin, Greek, Cyrillic.
_OWN_LETTERS = 0x52F
_SIGNS = range(0x2000, 0x2300)
_TOLD = "Who takes pieces signs for them. What came damaged is left out by the rule of this joint order."


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def _title(joint: JointOrder) -> str:
    return f"Handing out, {joint}"


def _lines(joint: JointOrder) -> list[HandingLine]:
    return [
        HandingLine(
            row.need.member.name,
            item_words(row.need.material.name, row.need.length, joint.organisation),
            row.need.quantity,
            row.due,
            row.handed,
        )
        for row in handing_of(joint)
    ]


def handing_list_pdf(joint: JointOrder) -> bytes:
    """A part a member, with a line to sign on. What is typed by people goes in as data, never as layout."""
    members = [
        {
            "name": name,
            "rows": [
                [line.thing, *map(format_count, (line.ordered, line.due, line.handed, line.left))] for line in lines
            ],
        }
        for name, lines in groupby(_lines(joint), key=lambda line: line.member)
    ]
    data = json.dumps(
        {
            "title": _title(joint),
            "told": _TOLD,
            "sender": joint.organisation.name,
            "letter": joint.organisation.unit_system == UnitSystem.IMPERIAL,
            "members": members,
        },
        ensure_ascii=False,
    )
    own = all(ord(letter) <= _OWN_LETTERS or ord(letter) in _SIGNS for letter in data)
    return typst.compile(_layout(), format="pdf", sys_inputs={"list": data}, ignore_system_fonts=own)


def handing_list_workbook(joint: JointOrder) -> bytes:
    """A row a member and thing, with places for day and signature."""
    return handing_workbook(
        lines=_lines(joint),
        day=today_of(organisation=joint.organisation),
        title=_title(joint),
        told=_TOLD,
        author=joint.organisation.name,
        units=UnitSystem(joint.organisation.unit_system),
    )
