"""Whatever stands in a cell, the workbook is read or refused in words: never a server error, and nothing stored."""

from __future__ import annotations

import io
import random
from datetime import date

import pytest
from openpyxl import load_workbook

from farmbuild.projects.bridge import project_workbook
from farmbuild.projects.services import make_draft
from farmbuild.stock.models import Lot
from tests.projects.conftest import farm, filled
from tests.size import sized

pytestmark = pytest.mark.django_db
#: Texts with a bar between, and values that are none.
_TEXTS = "|?|-1|0|1e400|1,234.5|12' 6\"|=1/0|'|\u200b|ß|日本|new|1890-01-01|north-field|North Field|rail-1-3-8|none"
_MORE = "tube; tube|3 mm|200 km|$5|€ 5|100%|yes|no"
_VALUES = (" ", "x" * 5000, -1, 0, 1, 1.5, 10**20, float(10**300), True, False, date(9999, 12, 31), date(1900, 1, 1))
ODD = (*_TEXTS.split("|"), *_MORE.split("|"), *_VALUES)


def test_odd_cells_are_read_or_refused_in_words() -> None:
    data = project_workbook(organisation=filled()[0], as_of=date(2027, 2, 1))
    organisation, user = farm()
    chance = random.Random(7)
    refused = 0
    for _ in range(sized(12, 200)):
        book = load_workbook(io.BytesIO(data))
        for _ in range(chance.choice((1, 1, 3))):
            page = chance.choice(book.worksheets)
            first = 3 if chance.random() < 0.15 else 4
            row = chance.randint(first, max(first, page.max_row + 1))
            page.cell(row, chance.randint(1, page.max_column + 1)).value = chance.choice(ODD)
        out = io.BytesIO()
        book.save(out)
        draft = make_draft(organisation=organisation, user=user, data=out.getvalue(), filename="odd.xlsx")
        refused += bool(draft.shown["faults"])
        for fault in draft.shown["faults"]:
            assert fault["sentence"].endswith((".", "?", "”", ")")), fault
            assert fault["sheet"]
        assert not Lot.objects.of(organisation).exists()
    assert refused
