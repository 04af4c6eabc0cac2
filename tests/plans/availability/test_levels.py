"""The line of what runs short: its levels against the ledger, orders and holds added up again here."""

from __future__ import annotations

import re
from collections import defaultdict
from datetime import date, timedelta

import pytest

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.buying.services import send_order
from farmbuild.plans.availability.drawings import levels_of
from farmbuild.plans.availability.selectors import things_of
from farmbuild.stock.models import Movement, Reservation
from tests.plans.small_season import AS_OF

pytestmark = pytest.mark.django_db
TODAY = AS_OF + timedelta(days=3)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args, **more: TODAY)


def by_rows() -> dict[tuple[str, object], dict[date, int]]:
    """What is there at the end of each day of a change, row by row."""
    changes: dict[tuple[str, object], list[tuple[date, int]]] = defaultdict(list)
    for row in Movement.objects.filter(lot__offcut=False).select_related("lot__material"):
        changes[row.lot.material.code, row.lot.length].append((TODAY, row.quantity))
    for line in PurchaseOrderLine.objects.filter(order__state__in=["sent", "part"]).select_related("material"):
        coming = line.quantity - line.arrived + line.damaged
        comes = line.promised_on or line.need_by + timedelta(days=line.late_days)
        comes = comes if comes >= TODAY else TODAY + timedelta(days=1)
        changes[line.material.code, line.length].append((comes, coming))
    for hold in Reservation.objects.select_related("lot__material", "order_line__material"):
        if hold.lot is None or not hold.lot.offcut:
            thing = hold.lot or hold.order_line
            changes[thing.material.code, thing.length].append((max(hold.need_by, TODAY), -hold.quantity))
    found = {}
    for key, some in changes.items():
        found[key] = {
            day: sum(many for when, many in some if when <= day) for day in sorted({TODAY, *(day for day, _ in some)})
        }
    return found


def line_now(organisation):
    things = things_of(organisation=organisation, today=TODAY)
    line = levels_of(things, organisation=organisation, today=TODAY, link=lambda thing: f"/{thing.material.code}/")
    return things, line


def test_levels_are_those_of_the_ledger_and_stand_to_scale(accepted, user):
    organisation = accepted.organisation
    first = accepted.orders.order_by("number").first()
    send_order(organisation=organisation, user=user, order=first, sent_on=AS_OF, how="by hand")
    # One line comes after it is needed, one should have come.
    lines = list(first.lines.order_by("position"))
    PurchaseOrderLine.objects.filter(pk=lines[0].pk).update(promised_on=date(2027, 6, 10))
    PurchaseOrderLine.objects.filter(pk=lines[-1].pk).update(promised_on=AS_OF)
    things, line = line_now(organisation)
    expected = by_rows()
    assert len(things) == len(line.rows) == len(expected) > 3
    strips = {row.href + row.name: strip for row, strip in (*line.open_rows, *line.folded_rows)}
    shorts = 0
    for thing, row in zip(things, line.rows, strict=True):
        levels = expected[thing.material.code, thing.length]
        assert dict(row.ends) == levels
        short = next((day for day, left in levels.items() if left < 0), None)
        assert row.short_on == short
        shorts += short is not None
        strip = strips[row.href + row.name]
        ways = re.findall(r'class="level(?: short)?" x1="([\d.]+)%" y1="([\d.]+)%" x2="[\d.]+%" y2="([\d.]+)%"', strip)
        flat = [(float(x), float(y)) for x, y, end in ways if y == end][: len(levels)]
        days = (line.axis.end - line.axis.first).days
        assert [x for x, _ in flat] == [
            pytest.approx((day - line.axis.first).days / days * 100, abs=0.001) for day in levels
        ]
        [zero] = re.findall(r'class="zero" x1="0" y1="([\d.]+)%"', strip)
        sizes = {round((float(zero) - y) / left, 3) for (_, y), left in zip(flat, levels.values(), strict=True) if left}
        assert not sizes or max(sizes) - min(sizes) <= 0.01 * max(map(abs, sizes))
        assert (short is not None) == ("short-day" in strip)
    assert 0 < shorts < len(things)
    late = next(row for thing, row in zip(things, line.rows, strict=True) if thing.material.pk == lines[0].material_id)
    assert date(2027, 6, 10) in dict(late.arrivals)


def test_the_page_shows_the_line_before_the_table(signed_in, accepted):
    page = signed_in.get("/stock/availability/").content.decode()
    assert page.index('class="season"') < page.index("<table")
    assert ">today<" in page and ">short 12 May<" in page and "<title id=" in page and "<desc id=" in page
    assert "in a table" in page
    # Each row leads to it day by day.
    assert re.search(r'class="name" href="/stock/availability/rail/\?length=3048[^"]*">1-3/8 rail', page)
    said = re.sub("<[^>]*>", " ", re.search(r'(?s)<p class="answer">(.*?)</p>', page)[1])
    assert re.search(r"\d+ May 2027: \d+ ", said) and len(said.split()) <= 18


def test_nothing_to_draw_draws_nothing(signed_in, organisation):
    assert 'class="season"' not in signed_in.get("/stock/availability/").content.decode()
