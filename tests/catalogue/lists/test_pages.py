"""The pages of a list: sent, looked at, said otherwise, taken over; and by whom not."""

from __future__ import annotations

from datetime import timedelta
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from farmbuild.catalogue.models import Offer, PriceList
from tests.catalogue.lists.conftest import LIST
from tests.factories import MembershipFactory, SupplierFactory

pytestmark = pytest.mark.django_db
NEW = "/suppliers/pipe/lists/new/"


def text_of(answer):
    return " ".join(unescape(answer.content.decode()).split())


def fields_of(answer, **more):
    """What a browser would send of the page as it stands."""
    form = answer.context["form"]
    sent = {field.html_name: field.value() for field in form if field.value() not in (None, False)}
    sent |= {f"row-{row.number}": row.choice for row in answer.context["rows"] if row.asks}
    return sent | {"seen": answer.context["seen"], "do": "look"} | more


def test_from_pasted_rows_to_offers(signed_in, shop):
    answer = signed_in.post(NEW, {"rows": LIST}, follow=True)
    page = text_of(answer)
    assert "3 new, 0 changed, 0 no longer in it; not taken over yet." in page
    assert "1 offer would have no lead time" in page
    answer = signed_in.post(answer.request["PATH_INFO"], fields_of(answer, lead="9"), follow=True)
    assert "would have no lead time" not in text_of(answer)
    answer = signed_in.post(answer.request["PATH_INFO"], fields_of(answer, do="take"), follow=True)
    page = text_of(answer)
    assert "Taken over: 3 new" in page and "3 new offers of Invented Pipe, 0 changed." in page
    assert sorted(Offer.objects.values_list("lead_days", flat=True)) == [2, 6, 9]
    # Pressed again it is what it was, and nothing is done twice.
    again = signed_in.post(answer.request["PATH_INFO"], {"do": "take"}, follow=True)
    assert "Taken over: 3 new" in text_of(again) and Offer.objects.count() == 3


def test_what_was_changed_is_read_before_anything_is_taken_over(signed_in, shop):
    answer = signed_in.post(NEW, {"rows": LIST}, follow=True)
    answer = signed_in.post(answer.request["PATH_INFO"], fields_of(answer, do="take", per="pack"), follow=True)
    assert "What you changed is read now" in text_of(answer) and not Offer.objects.exists()
    assert PriceList.objects.get().said["per"] == "pack"


def test_every_refused_cell_by_row_and_column(signed_in, shop):
    answer = signed_in.post(
        NEW, {"rows": LIST.replace("11.10", "eleven").replace("Joint screw", "Odd screw")}, follow=True
    )
    page = text_of(answer)
    assert "4 rows: 1 to correct, 1 of no known material; nothing is taken over yet." in page
    assert "Row 4, Price, column F:" in page and "“eleven”" in page
    assert "Take over the list" not in page
    chosen = {"row-4": "-", "row-5": "screw"}
    answer = signed_in.post(answer.request["PATH_INFO"], fields_of(answer, **chosen), follow=True)
    page = text_of(answer)
    assert "2 new" in page and "1 row left out." in page and "Take over the list" in page


def test_nothing_is_lost_on_refusal(signed_in, shop):
    assert LIST.strip() in unescape(
        signed_in.post(NEW, {"rows": LIST, "file": SimpleUploadedFile("a.csv", b"x,y")}).content.decode()
    )
    bad = 'Item,Price\n"X,1\n'
    assert bad.strip() in unescape(signed_in.post(NEW, {"rows": bad}).content.decode())
    answer = signed_in.post(NEW, {"rows": LIST.replace("Joint screw", "Odd screw")}, follow=True)
    path = answer.request["PATH_INFO"]
    refused = signed_in.post(path, fields_of(answer, **{"lead": "soon", "col-0": "name", "row-5": "screw"}))
    page = text_of(refused)
    assert "Type a whole number from 0 to 730" in page and 'value="soon"' in page
    assert "is “What it is” already" in page
    assert '<option value="screw" selected' in page


def test_offers_no_longer_in_the_list_are_asked_about(signed_in, shop):
    shop.read(LIST)
    less = LIST.replace("IP-2,2x6 board,12',1,1,11.10,2\n", "")
    answer = signed_in.post(NEW, {"rows": less}, follow=True)
    path = answer.request["PATH_INFO"]
    assert "1 offer no longer in the list" in text_of(answer)
    answer = signed_in.post(path, fields_of(answer, do="take"))
    assert "Say whether the 1 offer not in the list end or stay." in text_of(answer)
    signed_in.post(path, fields_of(answer, do="take", gone="end"))
    assert Offer.objects.get(supplier_code="IP-2").valid_until is not None


@pytest.mark.parametrize(
    "tampered",
    [
        {"row-5": "no-such-material"},
        {"col-0": "no-such-role"},
        {"head": "-1"},
        {"per": "mile"},
        {"sheet": "7"},
        {"seen": "0" * 64, "do": "take"},
        {"row-999999": "rail", "seen": "", "do": "take"},
    ],
)
def test_a_second_page_that_was_tampered_with_stores_nothing(signed_in, shop, tampered):
    answer = signed_in.post(NEW, {"rows": LIST.replace("IP-3,Joint screw", "IP-3,Odd screw")}, follow=True)
    before = PriceList.objects.get().said
    answer = signed_in.post(answer.request["PATH_INFO"], fields_of(answer, **tampered), follow=True)
    assert answer.status_code == 200 and not Offer.objects.exists()
    kept = PriceList.objects.get()
    assert kept.said == before and kept.choices == {}


def test_suppliers_and_lists_of_others_are_not_there(client, signed_in, shop):
    made = shop.send(LIST)
    other = SupplierFactory(organisation=shop.organisation, code="other")
    assert signed_in.get(reverse("catalogue:list", args=[other.code, made.pk])).status_code == 404
    theirs = MembershipFactory()
    client.force_login(theirs.user)
    for address in (NEW, reverse("catalogue:list", args=["pipe", made.pk])):
        assert client.get(address).status_code == client.post(address, {"do": "take"}).status_code == 404
    client.logout()
    assert client.get(NEW).status_code == 302


def test_lists_that_nobody_took_over_go_in_time(shop):
    old, taken = shop.send(LIST), shop.send(LIST)
    shop.take(taken)
    PriceList.objects.update(read_at=timezone.now() - timedelta(days=61))
    shop.send(LIST)
    assert not PriceList.objects.filter(pk=old.pk).exists() and PriceList.objects.filter(pk=taken.pk).exists()


def test_a_long_list_asks_as_often_as_a_short_one(signed_in, shop, django_assert_max_num_queries):
    text = "Item no,Description,Length,Price\n" + "".join(f"A{n},Thing {n},10',{n + 1}.50\n" for n in range(300))
    made = shop.send(text)
    address = reverse("catalogue:list", args=["pipe", made.pk])
    signed_in.get(address)
    with django_assert_max_num_queries(14):
        page = text_of(signed_in.get(address))
    assert "300 rows: 300 of no known material" in page and "Rows 1 to 40 of 300" in page
