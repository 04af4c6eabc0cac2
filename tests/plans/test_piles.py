"""The piles on the stock page are what ledger, holds and receipts come to, worked out here from their rows alone."""

from __future__ import annotations

import re
from collections import defaultdict
from datetime import date
from html import unescape

import pytest
from django.utils.html import strip_tags

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, ReceiptLine
from farmbuild.buying.services import Arrival, receive_goods, send_order
from farmbuild.plans.models import Plan
from farmbuild.plans.reserving.services import release
from farmbuild.sites.models import House
from farmbuild.stock.ledger import reverse as reverse_movement
from farmbuild.stock.models import Lot, Movement, Place, Reservation
from farmbuild.stock.services import issue_pieces, scrap
from tests.factories import FOOT, INCH, LotFactory, MaterialFactory, MembershipFactory
from tests.plans.small_season import AS_OF
from tests.reading import with_spaces

pytestmark = pytest.mark.django_db
STATES = ("held", "free", "coming")


def drawn(page: str) -> dict[tuple[str, str], tuple[int, int, int]]:
    """By title and length, as drawn: marks of each state, a square as a hundred; of offcuts what the words say."""
    found = {}
    for block in re.split(r'<div class="pile(?= |")', page)[1:]:
        block = block.split("</div>")[0] + block
        title = unescape(re.search(r"<title[^>]*>(.*?)</title>", block)[1])
        svg = re.search(r"<svg.*?</svg>", block, re.S)[0]
        if "cut-end" in block[:20]:
            words = re.sub(r"<[^>]*>", "", re.search(r"<p>(.*?)</p>", block, re.S)[1])
            there = int(re.match(r"\s*(\d+) of", words)[1])
            part = re.search(r"(\d+) held, (\d+) free", words)
            held = int(part[1]) if part else there if re.search(r": (all )?held", words) else 0
            bar, level = re.findall(r'class="cut-off(?: held)?"[^>]*height="([\d.]+)"', svg) + ["0"] * (not held)
            assert float(level) == pytest.approx(float(bar) * held / there, abs=0.02)
            counts = (held, there - held, 0)
            title = f"offcut {title}"
        else:
            ends = {state: len(re.findall(f'class="end {state}"', svg)) for state in STATES}
            squares = {state: len(re.findall(f'class="hundred {state}"', svg)) for state in STATES}
            counts = tuple(ends[state] + 100 * squares[state] for state in STATES)
        assert title not in found
        found[title] = counts
    return found


def worked_out(organisation) -> dict[str, tuple[int, int, int]]:
    """From movements, holds, order lines and receipts; nothing that is kept as a sum is read."""
    sums: dict[tuple, list[int]] = defaultdict(lambda: [0, 0, 0])
    for row in Movement.objects.filter(lot__organisation=organisation).select_related("lot__material"):
        sums[row.lot.material, row.lot.length, row.lot.offcut][1] += row.quantity
    for row in Reservation.objects.of(organisation).exclude(lot=None).select_related("lot__material"):
        key = sums[row.lot.material, row.lot.length, row.lot.offcut]
        key[0] += row.quantity
        key[1] -= row.quantity
    lines = PurchaseOrderLine.objects.filter(order__organisation=organisation, closed_at=None)
    for line in lines.filter(order__state__in=["sent", "part"]).select_related("material"):
        came = sum(row.arrived - row.damaged for row in ReceiptLine.objects.filter(order_line=line))
        sums[line.material, line.length, False][2] += max(0, line.quantity - came)
    found = {}
    for (material, length, offcut), counts in sums.items():
        if length is not None and any(counts):
            title = f"{material}, {_told(length)}"
            found[f"offcut {title}" if offcut else title] = tuple(counts)
    return found


def _told(length) -> str:
    from farmbuild.measure import UnitSystem, format_both

    return "{} ({})".format(*format_both(length, UnitSystem.IMPERIAL))


def same(client, organisation) -> dict[str, tuple[int, int, int]]:
    page = with_spaces(client.get("/stock/"))
    found = drawn(page)
    assert found == worked_out(organisation)
    return found


@pytest.fixture
def given(organisation, user):
    return {"organisation": organisation, "user": user}


def test_after_every_change_the_picture_is_the_ledger(signed_in, accepted: Plan, organisation, given):
    emt = MaterialFactory(organisation=organisation, name="3/4 EMT conduit", code="emt", swaged=False, width=INCH)
    rack = Place.objects.get(name="Rack 1")
    LotFactory(material=emt, place=rack, length=FOOT * 10, on_hand=37)
    before = same(signed_in, organisation)
    assert before[f"3/4 EMT conduit, {_told(FOOT * 10)}"] == (0, 37, 0)
    assert any(held for held, _, _ in before.values())
    assert not any(coming for _, _, coming in before.values())

    orders = list(PurchaseOrder.objects.filter(plan=accepted))
    for order in orders:
        send_order(**given, order=order, sent_on=AS_OF, how="by hand")
    sent = same(signed_in, organisation)
    assert sum(coming for _, _, coming in sent.values()) > 0
    assert any("board" in title and coming for title, (_, _, coming) in sent.items())

    line = PurchaseOrderLine.objects.filter(order__in=orders, material__code="rail").get()
    arrival = [Arrival(line.pk, 4, 1, "bent")]
    receive_goods(**given, order=line.order, arrivals=arrival, received_on=AS_OF, place="Rack 1", token="t")
    came = same(signed_in, organisation)
    assert came != sent

    hold = Reservation.objects.of(organisation).filter(lot__reference="L-1").first()
    movement = issue_pieces(**given, lot=hold.lot, quantity=2, reason="hoops", house=hold.house)
    issued = same(signed_in, organisation)
    assert issued != came
    reverse_movement(**given, movement=movement, reason="wrong house")
    back = same(signed_in, organisation)
    assert back != issued
    hold = Reservation.objects.of(organisation).filter(lot__reference="L-1", quantity__gt=1).first()
    release(**given, reservation=hold, quantity=1)
    assert same(signed_in, organisation) != back

    offcut = LotFactory(material=emt, place=rack, length=INCH * 14, on_hand=6, offcut=True)
    scrap(**given, lot=offcut, quantity=5, reason="bent")
    assert same(signed_in, organisation)[f"offcut 3/4 EMT conduit, {_told(INCH * 14)}"] == (0, 1, 0)


def test_an_order_that_is_a_draft_or_goes_elsewhere_is_not_drawn(signed_in, accepted: Plan, organisation, given):
    coming = 'class="end coming"'
    assert coming not in signed_in.get("/stock/").content.decode()
    for order in PurchaseOrder.objects.filter(plan=accepted):
        send_order(**given, order=order, sent_on=AS_OF, how="by hand")
    assert coming in signed_in.get("/stock/").content.decode()
    assert coming in signed_in.get("/stock/", {"site": accepted.delivery_site.slug}).content.decode()
    assert coming not in signed_in.get("/stock/", {"site": "creek-bottom"}).content.decode()
    assert coming not in signed_in.get("/stock/", {"offcuts": "only"}).content.decode()


def test_what_others_have_is_in_no_pile(client, accepted: Plan, given):
    for order in PurchaseOrder.objects.filter(plan=accepted):
        send_order(**given, order=order, sent_on=AS_OF, how="by hand")
    client.force_login(MembershipFactory().user)
    page = client.get("/stock/").content.decode()
    assert "1-3/8 rail" not in page and 'class="pile' not in page


def test_what_a_house_holds_is_drawn_in_the_yard_and_on_order(signed_in, accepted: Plan, given, organisation):
    for order in PurchaseOrder.objects.filter(plan=accepted):
        send_order(**given, order=order, sent_on=AS_OF, how="by hand")
    house = House.objects.get(slug="north-1")
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for row in Reservation.objects.filter(house=house).select_related("lot__material", "order_line__material"):
        of = row.lot or row.order_line
        if of.length is not None:
            cut = "offcut " if row.lot and row.lot.offcut else ""
            sums[f"{cut}{of.material}, {_told(of.length)}"][0 if row.lot else 2] += row.quantity
    page = with_spaces(signed_in.get("/houses/north-1/held/"))
    assert drawn(page) == {title: tuple(counts) for title, counts in sums.items()}
    assert {state for counts in sums.values() for state, count in zip(STATES, counts, strict=True) if count} == {
        "held",
        "coming",
    }
    # In words each thing by itself; sticks are not added to screws.
    assert "In the yard: " in page and re.search(r"On order: [^.]*boards? and [\d,]+ fasteners", page)


def test_leftovers_are_drawn_less_what_houses_hold_by_the_day(signed_in, accepted: Plan, organisation):
    day = date(2027, 5, 12)
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for lot in Lot.objects.of(organisation).select_related("material"):
        there = sum(movement.quantity for movement in lot.movements.all())
        held = [(row.need_by <= day, row.quantity) for row in Reservation.objects.filter(lot=lot)]
        later = sum(quantity for by_then, quantity in held if not by_then)
        free = there - sum(quantity for _, quantity in held)
        if free + later:
            key = sums[f"{'offcut ' if lot.offcut else ''}{lot.material}, {_told(lot.length)}"]
            key[0], key[1] = key[0] + later, key[1] + free
    page = with_spaces(signed_in.get("/stock/season-end/", {"day": str(day)}))
    assert sums
    assert drawn(page) == {title: tuple(counts) for title, counts in sums.items()}


@pytest.mark.parametrize("page", ["/stock/", "/stock/season-end/", "/stock/held/", "/stock/places/", "/stock/ledger/"])
def test_no_foot_adds_sticks_to_screws(signed_in, accepted: Plan, organisation, page):
    """The yard has sticks, offcuts and, from here on, screws: no foot of a stock page may have a sum of pieces."""
    screw = MaterialFactory(organisation=organisation, kind="fastener", name="Screw")
    LotFactory(material=screw, place=Place.objects.get(name="Rack 1"), length=None, on_hand=180)
    html = with_spaces(signed_in.get(page))
    foot = re.search(r"<tfoot.*?</tfoot>", html, re.S)
    heads = [strip_tags(cell).strip() for cell in re.findall(r"<th [^>]*scope=\"col\".*?</th>", html, re.S)]
    cells = [strip_tags(cell).strip() for cell in re.findall(r"<td.*?</td>", foot[0], re.S)] if foot else []
    summed = [head for head, cell in zip(heads, cells, strict=False) if cell and cell != "Sum"]
    assert all(head.startswith("Value") for head in summed)
    assert bool(summed) is (page in ("/stock/", "/stock/season-end/"))


def test_no_sum_over_a_receipt_or_the_receipts_of_an_order(signed_in, accepted: Plan, given):
    order = PurchaseOrder.objects.filter(plan=accepted, lines__material__code="rail").first()
    send_order(**given, order=order, sent_on=AS_OF, how="by hand")
    arrivals = [Arrival(line.pk, 1) for line in order.lines.all()]
    receive_goods(**given, order=order, arrivals=arrivals, received_on=AS_OF, place="Rack 1", token="t")
    assert "<tfoot" not in with_spaces(signed_in.get(f"/orders/{order.number}/receipts/1/"))
