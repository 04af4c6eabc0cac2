"""Where and when a line comes, when elsewhere than its order: every place that tells of lines knows it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from farmbuild.buying import receiving, sending
from farmbuild.buying.bridge import incoming_lot, order_sheet
from farmbuild.buying.files import fresh_file, order_file
from farmbuild.buying.incoming import incoming_lines
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.common.templatetags.farm import day
from farmbuild.plans.availability.selectors import things_of
from farmbuild.stock.models import Lot, Place, Reservation
from farmbuild.stock.reserving.words import where
from farmbuild.workbooks.replies import read_reply
from tests.buying.drafting.sheets import order_rows
from tests.factories import PlaceFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db

#: What is ordered: held by a trigger from the day on which the order goes out.
ORDERED = {
    *("order", "position", "material", "description", "supplier_code", "length", "needed", "pack", "quantity"),
    *("unit_price", "line_total", "tax", "tax_percent", "need_by", "late_days", "delivery_site"),
}
#: What happens to it afterwards, and the offer, which may be removed from the catalogue.
LATER = {
    *("id", "offer", "arrived", "damaged", "reserved", "confirmed_price", "confirmed_quantity", "promised_on"),
    *("remark", "closed_at", "closed_by", "closed_reason"),
}


@pytest.fixture
def order(yard):
    """One line as the order, one to Creek Bottom three days later."""
    order = yard.order()
    yard.line(order, 30)
    yard.line(order, 20, delivery_site=yard.creek, need_by=yard.day + timedelta(days=3))
    order.refresh_from_db()
    return order


@pytest.fixture
def sent(order, yard):
    sending.send_order(**yard.who, order=order, sent_on=date(2026, 11, 2), how="")
    order.refresh_from_db()
    return order


def test_no_field_of_a_line_is_forgotten():
    """A new field is put into one of the two sets, and what is ordered into the guard and the test below."""
    assert {field.name for field in PurchaseOrderLine._meta.concrete_fields} == ORDERED | LATER


@pytest.mark.parametrize("name", sorted(ORDERED))
def test_what_was_ordered_stays_once_the_order_is_out(sent, yard, name):
    line = sent.lines.first()
    field = PurchaseOrderLine._meta.get_field(name)
    other = {"order": yard.order(), "material": yard.screws.material, "delivery_site": yard.creek}.get(name)
    if other is None:
        now = getattr(line, name)
        other = now + timedelta(days=1) if isinstance(now, date) else f"{now}x" if isinstance(now, str) else now + 1
    with pytest.raises(IntegrityError, match="what was ordered stays"), transaction.atomic():
        PurchaseOrderLine.objects.filter(pk=line.pk).update(**{field.name: other})


@pytest.mark.parametrize("name", ["delivery_site", "need_by", "note", "total", "goods", "tax_percent", "tax_included"])
def test_the_head_stays_once_the_order_is_out(sent, yard, name):
    others = {"delivery_site": yard.creek, "need_by": date(2030, 1, 1), "note": "late", "tax_included": True}
    other = others.get(name, 99)
    with pytest.raises(IntegrityError, match="what was ordered stays"), transaction.atomic():
        PurchaseOrder.objects.filter(pk=sent.pk).update(**{name: other})


def test_no_line_is_added_to_an_order_that_is_out(sent):
    line = sent.lines.first()
    line.pk, line.position = None, 9
    with pytest.raises(IntegrityError, match="what was ordered stays"), transaction.atomic():
        line.save(force_insert=True)


def test_the_sheet_has_a_column_only_where_a_line_goes_elsewhere(order, yard):
    rows = order_rows(fresh_file(order=order))
    assert [row["Deliver to"] for row in rows] == ["North Field", "Creek Bottom, 2 Made-up Road"]
    assert [row["Needed by"].date() for row in rows] == [yard.day, yard.day + timedelta(days=3)]
    plain = yard.order(note="Ring first")
    yard.line(plain, 30)
    assert "Deliver to" not in order_rows(fresh_file(order=plain))[0]


def test_the_sheet_says_what_the_order_says(sent):
    """Field by field, but for what planned lines alone have."""
    sheet = order_sheet(sent)
    for name in ("order_by", "need_by", "goods", "delivery", "tax", "total", "tax_included"):
        assert getattr(sheet.order, name) == getattr(sent, name)
    for row, line in zip(sent.lines.all(), sheet.order.lines, strict=True):
        for name in ORDERED - {"order", "position", "material", "delivery_site"}:
            assert getattr(line, name) == getattr(row, name), name


def test_a_sheet_with_the_column_is_read_back(sent):
    reply = read_reply(order_file(order=sent).data, "order.xlsx", currency="USD")
    assert [(line.number, line.quantity, line.promised, line.problems) for line in reply.lines] == [
        (1, 30, None, {}),
        (2, 20, None, {}),
    ]


def test_pages_say_where_each_line_goes(signed_in, order, yard):
    assert "Creek Bottom" in text_of(signed_in.get(f"/orders/{order.number}/"))
    sending.send_order(**yard.who, order=order, sent_on=yard.day, how="")
    assert "Creek Bottom" in text_of(signed_in.get(f"/orders/{order.number}/"))
    page = signed_in.get(f"/orders/{order.number}/receive/")
    assert "Goes to Creek Bottom." in text_of(page)


def test_places_of_the_site_are_proposed_on_receipt(signed_in, sent, yard):
    PlaceFactory(organisation=sent.organisation, name="Creek rack", site=yard.creek)
    PlaceFactory(organisation=sent.organisation, name="Barn rack", site=yard.north)
    page = signed_in.get(f"/orders/{sent.number}/receive/").content.decode()
    offered = page.split('<datalist id="places-creek-bottom">')[1].split("</datalist>")[0]
    assert "Creek rack" in offered and "Barn rack" not in offered
    assert 'list="places-creek-bottom"' in page


def test_what_goes_elsewhere_is_received_there(sent, yard):
    lines = list(sent.lines.all())
    given = {"order": sent, "received_on": yard.day, "token": "form-1", "place": "Barn rack"}
    unsaid = [receiving.Arrival(line.pk, line.quantity) for line in lines]
    with pytest.raises(receiving.LineProblems) as refused:
        receiving.receive_goods(**yard.who, **given, arrivals=unsaid)
    assert "This line goes to Creek Bottom." in refused.value.messages[0]
    # What is damaged lies nowhere.
    gone = receiving.Arrival(lines[1].pk, 1, damaged=1, damage_reason="crushed")
    receiving.receive_goods(**yard.who, **given | {"token": "form-0"}, arrivals=[gone])
    told = [unsaid[0], receiving.Arrival(lines[1].pk, 20, place="New rack")]
    receiving.receive_goods(**yard.who, **given, arrivals=told)
    places = dict(Place.objects.of(sent.organisation).values_list("name", "site__name"))
    assert places == {"Barn rack": "North Field", "New rack": "Creek Bottom"}
    assert dict(Lot.objects.values_list("place__name", "on_hand")) == {"Barn rack": 30, "New rack": 20}


def test_what_runs_short_takes_the_day_and_names_the_site(sent, yard):
    (thing,) = things_of(
        organisation=sent.organisation, today=yard.day - timedelta(days=30), material=yard.rail.material
    )
    steps = [(step.change.day, step.change.note) for step in thing.outlook.steps if step.change.quantity in (30, 20)]
    assert [day for day, _ in steps] == [yard.day, yard.day + timedelta(days=3)]
    assert [note.endswith(", to Creek Bottom") for _, note in steps] == [False, True]


def test_plans_take_it_for_the_houses_of_its_site(sent, yard):
    lots = [incoming_lot(line, line.waited, as_of=yard.day) for line in incoming_lines(organisation=sent.organisation)]
    assert [(lot.site, lot.available_from) for lot in lots] == [
        ("", yard.day),
        ("creek-bottom", yard.day + timedelta(days=3)),
    ]
    assert lots[1].place.endswith(", to Creek Bottom")


def test_holds_say_where_their_line_goes(accepted, season, signed_in):
    line = accepted.orders.get(number="1-1").lines.get(material__code="rail")
    PurchaseOrderLine.objects.filter(pk=line.pk).update(delivery_site=season.creek)
    row = Reservation.objects.filter(order_line=line).first()
    assert where(row) == f"order 1-1 line {line.position}, not sent yet, wanted for {day(line.due_on)}, to Creek Bottom"
    assert "to Creek Bottom" in text_of(signed_in.get("/stock/held/"))
