"""A list taken over: all of it or nothing, once, and what it changes when it comes again."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from farmbuild.catalogue.lists import services
from farmbuild.catalogue.models import Offer, OfferRecord, PriceBreak
from farmbuild.orgs.models import Organisation
from tests.catalogue.lists.conftest import DAY, LIST
from tests.factories import FOOT, MaterialFactory

pytestmark = pytest.mark.django_db
NEXT = date(2028, 2, 1)


def offers():
    return {
        row.supplier_code: (
            row.material.code,
            row.length,
            row.pack,
            row.lead_days,
            [(step.from_quantity, step.unit_price) for step in row.breaks.all()],
        )
        for row in Offer.objects.all()
    }


def test_prices_breaks_packs_and_lead_times(shop):
    shop.read(LIST)
    assert offers() == {
        "IP-1": ("rail", FOOT * 10, 1, 6, [(1, Decimal("14.60")), (50, Decimal("13.40"))]),
        "IP-2": ("board", FOOT * 12, 1, 2, [(1, Decimal("11.10"))]),
        # Nobody said how long the screws take.
        "IP-3": ("screw", None, 100, None, [(1, Decimal("0.0725"))]),
    }
    assert {row.listed_as for row in Offer.objects.all()} == {"1-3/8 rail", "2x6 board", "Joint screw"}
    records = OfferRecord.objects.all()
    assert {(row.kind, row.since, row.by) for row in records} == {("list", DAY, shop.user)}


def test_the_same_again_on_the_same_day_changes_nothing(shop):
    shop.read(LIST)
    before, steps = offers(), list(PriceBreak.objects.values_list("pk", flat=True))
    made = shop.send(LIST)
    assert {change.kind for change in shop.understood(made).changes} == {"same"}
    shop.take(made)
    assert offers() == before and list(PriceBreak.objects.values_list("pk", flat=True)) == steps
    assert OfferRecord.objects.count() == 3


def test_next_year_says_what_changed_and_by_how_much(shop):
    shop.read(LIST)
    MaterialFactory(organisation=shop.organisation, code="clip", name="Pipe clip", kind="hardware")
    newer = LIST.replace("14.60", "15.33").replace("IP-2,2x6 board,12',1,1,11.10,2\n", "IP-9,Pipe clip,,1,1,0.80,4\n")
    made = shop.send(newer, "2028.csv")
    found = shop.understood(made, NEXT)
    rows = {change.material.code: change for change in found.changes}
    assert {code: change.kind for code, change in rows.items()} == {
        "rail": "changed",
        "clip": "new",
        "board": "gone",
        "screw": "same",
    }
    # By hand: 15.33 / 14.60 = 1.05.
    assert (rows["rail"].was[0][1], rows["rail"].now[0][1], rows["rail"].percent) == (
        Decimal("14.6000"),
        Decimal("15.3300"),
        Decimal("5.00"),
    )
    with pytest.raises(ValidationError, match="1 offer not in the list end or stay"):
        shop.take(made, NEXT)
    assert not Offer.objects.filter(supplier_code="IP-9").exists()
    shop.take(made, NEXT, end=True)
    board = Offer.objects.get(supplier_code="IP-2")
    assert board.valid_until == date(2028, 1, 31)
    # The sums of the history: what each price was, from when.
    rail = [(row.since, row.price) for row in OfferRecord.objects.filter(material__code="rail")]
    assert rail == [(DAY, Decimal("14.6000")), (NEXT, Decimal("15.3300"))]
    made.refresh_from_db()
    assert [(row["kind"], row["percent"]) for row in made.changes] == [("changed", "+5 %"), ("new", ""), ("gone", "")]


def test_what_stays_stays(shop):
    shop.read(LIST)
    shop.read(LIST.replace("IP-2,2x6 board,12',1,1,11.10,2\n", ""), today=NEXT, end=False)
    assert Offer.objects.get(supplier_code="IP-2").valid_until is None


def test_what_ended_is_not_asked_again_and_comes_back_with_the_next_list(shop):
    shop.read(LIST)
    less = LIST.replace("IP-2,2x6 board,12',1,1,11.10,2\n", "")
    shop.read(less, today=NEXT, end=True)
    made = shop.send(less)
    assert {change.kind for change in shop.understood(made, date(2028, 2, 3)).changes} == {"same"}
    shop.read(LIST, today=date(2028, 2, 4))
    assert Offer.objects.get(supplier_code="IP-2").valid_until is None


def test_taken_over_once(shop):
    made = shop.send(LIST)
    shop.take(made)
    with pytest.raises(ValidationError, match="taken over already"):
        shop.take(made)
    with pytest.raises(ValidationError, match="taken over already"):
        shop.say(made, per="pack")


def test_nothing_of_a_list_with_one_wrong_row(shop):
    made = shop.send(LIST.replace("11.10", "eleven"))
    with pytest.raises(ValidationError, match="not right yet"):
        shop.take(made)
    assert not Offer.objects.exists() and not OfferRecord.objects.exists()


def test_changed_by_somebody_since_it_was_shown(shop):
    shop.read(LIST)
    made = shop.send(LIST.replace("14.60", "15.33"))
    seen = services.fingerprint(shop.understood(made))
    PriceBreak.objects.filter(unit_price=Decimal("14.60")).update(unit_price=Decimal("14.70"))
    with pytest.raises(ValidationError, match="while this page was open"):
        services.take_list(
            organisation=shop.organisation, user=shop.user, price_list=made, seen=seen, today=DAY, end=None
        )
    assert PriceBreak.objects.filter(unit_price=Decimal("14.70")).exists()


def test_ten_times_as_much_is_asked_about(shop):
    shop.read(LIST)
    made = shop.send(LIST.replace("14.60", "1460"))
    with pytest.raises(ValidationError, match="ten times"):
        shop.take(made)
    shop.take(made, sure=True)
    assert PriceBreak.objects.filter(unit_price=1460).exists()


def test_a_list_of_later_waits_and_one_of_before_holds_from_its_day(shop):
    made = shop.send(LIST, since="2027-03-01")
    with pytest.raises(ValidationError, match="holds from 2027-03-01"):
        shop.take(made)
    shop.take(made, today=date(2027, 3, 4))
    assert {row.since for row in OfferRecord.objects.all()} == {date(2027, 3, 1)}


def test_lead_time_of_the_whole_list(shop):
    made = shop.send(LIST, lead=9)
    shop.take(made)
    assert {code: row[3] for code, row in offers().items()} == {"IP-1": 6, "IP-2": 2, "IP-3": 9}
    # A list that says none leaves what was said.
    shop.read("Item no,Description,Length,Pack,Price\nIP-3,Joint screw,,100,0.08\n", today=NEXT, end=False)
    assert offers()["IP-3"][3] == 9


def test_asks_as_often_whatever_the_number_of_rows(shop, django_assert_num_queries):
    text = "Item no,Description,Length,Price\n"
    few = shop.send(text + "".join(f"A{n},1-3/8 rail,{n + 5}',{n + 1}.50\n" for n in range(3)))
    many = shop.send(text + "".join(f"B{n},1-3/8 rail,{n + 5}',{n + 1}.50\n" for n in range(15)))
    with django_assert_num_queries(2):
        shop.understood(few)
    with django_assert_num_queries(2):
        shop.understood(many)


def test_what_is_left_out_by_choice_is_in_the_list_all_the_same(shop):
    shop.read(LIST)
    made = shop.send(LIST.replace("11.10", "eleven"), choices={"4": "-"})
    assert {change.kind for change in shop.understood(made).changes} == {"same"}


def test_read_in_one_currency_and_taken_over_in_another(shop):
    made = shop.send(LIST.replace("Price USD", "Price"))
    Organisation.objects.update(currency="EUR")
    shop.organisation.refresh_from_db()
    with pytest.raises(ValidationError, match="read when your prices were in USD; they are in EUR now"):
        shop.take(made)
    assert not Offer.objects.exists()
