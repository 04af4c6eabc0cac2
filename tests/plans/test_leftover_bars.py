"""What a plan leaves over as bars: one scale for sticks and one for film, every row, and the sum of all."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from farmbuild.plans import leftover_rows
from farmbuild.plans.leftover_rows import LeftRow
from farmbuild.plans.views import parts
from tests.factories import MembershipFactory
from tests.quality.test_pagers import walk
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def share_of(bar) -> Decimal:
    (wide,) = re.findall(r'width="([\d.]+)%"', bar.drawing)
    return Decimal(wide)


def row(material: str, length: int | None, *, offcut: bool = False, film: bool = False) -> LeftRow:
    return LeftRow(material, length and Decimal(length), 2, "Rack", "", "Whole, not used", offcut, Decimal(3), film)


def test_bars_have_one_scale_and_film_another():
    rows = [row("Rail", 6000), row("Rail", 1500, offcut=True), row("Pipe", 3000), row("Screw", None)]
    rows += [row("Film", 30000, film=True), row("Film", 10000, film=True, offcut=True)]
    bars = leftover_rows.bars_of(rows, rows, "metric")
    shares = [share_of(bar) for bar in bars if bar.drawing]
    assert shares == [100, 25, 50, 100, Decimal("33.3333")]
    assert [bar.heads for bar in bars] == [True, False, True, True, True, False]
    # An offcut is dashed; what has no length has no bar.
    assert ['class="end"' in bar.drawing for bar in bars] == [False, True, False, False, False, True]
    assert bars[3].drawing == ""
    # A page of them keeps the scale of all.
    (only,) = leftover_rows.bars_of(rows, rows[1:2], "metric")
    assert share_of(only) == 25 and only.heads


def test_the_page_has_every_row_with_its_length(signed_in, ready):
    season, plan = ready.snapshot()
    page = text_of(signed_in.get("/plans/1/leftovers/"))
    rows = leftover_rows.rows_of(season, plan)
    assert rows and page.count('<section class="left-bar') == len(rows)
    assert page.count("<svg") == sum(row.length is not None for row in rows)
    assert "Where everything went" in page
    assert signed_in.get("/plans/1/leftovers/?page=99").status_code == 200


def test_many_are_read_to_their_end(signed_in, ready, monkeypatch):
    rows = len(leftover_rows.rows_of(*ready.snapshot()))
    monkeypatch.setattr(parts, "ROWS_A_PAGE", rows - 1)
    monkeypatch.setattr(leftover_rows, "balances_of", lambda *_: [])
    assert walk(signed_in, "/plans/1/leftovers/") == 1


def test_nobody_of_another_organisation_sees_them(client, ready):
    client.force_login(MembershipFactory().user)
    assert client.get("/plans/1/leftovers/").status_code == 404
