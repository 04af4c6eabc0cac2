"""What a label leads to: more into this lot, an issue put back in one tap, and a loan."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from unittest.mock import patch

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.utils import timezone

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.stock import ledger, services
from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import Lot, Movement
from tests.factories import FOOT, LotFactory, MaterialFactory, MembershipFactory, PlaceFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(organisation):
    rail = MaterialFactory(organisation=organisation, name="Invented rail", code="rail")
    rack = PlaceFactory(organisation=organisation, name="Barn rack")
    return LotFactory(material=rail, place=rack, reference="RACK-1", length=FOOT * 10, on_hand=20)


def on_hand(lot):
    return Lot.objects.values_list("on_hand", flat=True).get(pk=lot.pk)


def issue(lot, user, quantity=4, **more):
    return services.issue_pieces(
        organisation=lot.organisation, user=user, lot=lot, quantity=quantity, reason="gate", **more
    )


def put_back(lot, user, movement):
    return ledger.put_back(organisation=lot.organisation, user=user, movement=movement)


# Receive more


def test_more_goes_into_the_lot_whose_label_was_read(signed_in, user, lot):
    address = f"/stock/lots/{lot.pk}/receive/?label=1"
    assert f'href="{address}"' in signed_in.get("/l/RACK-1/").content.decode()
    sent = {"quantity": "12", "paper": "Note 7", "once": "one-token"}
    answer = signed_in.post(address, sent)
    assert answer.url == "/l/RACK-1/"
    # Sent again, as after a lost answer.
    assert signed_in.post(address, sent).url == "/l/RACK-1/"
    assert Lot.objects.get().on_hand == 32
    row = Movement.objects.get(kind="receive", lot=lot, paper="Note 7")
    assert (row.quantity, row.by) == (12, user)
    assert not list(differences())


@pytest.mark.parametrize("quantity", ["", "0", "-1", "two", str(MAX_QUANTITY), str(MAX_QUANTITY + 1)])
def test_what_cannot_be_received_is_said_at_the_field(signed_in, lot, quantity):
    answer = signed_in.post(f"/stock/lots/{lot.pk}/receive/", {"quantity": quantity})
    assert answer.status_code == 200
    assert answer.context["form"].errors["quantity"]
    assert on_hand(lot) == 20


def test_another_price_begins_a_new_lot_like_it(signed_in, lot):
    page = signed_in.get(f"/stock/lots/{lot.pk}/receive/").content.decode()
    assert f"/stock/receive/?like={lot.pk}" in page
    form = signed_in.get(f"/stock/receive/?like={lot.pk}").context["form"]
    assert (form["material"].value(), form["length"].value()) == (lot.material_id, "10'")
    assert form["place_name"].value() == "Barn rack"
    other = LotFactory()
    assert not signed_in.get(f"/stock/receive/?like={other.pk}").context["form"].initial.get("material")


def test_lots_and_issues_of_others_are_not_found(client, user, lot):
    issued = issue(lot, user)
    client.force_login(MembershipFactory().user)
    assert client.post(f"/stock/lots/{lot.pk}/receive/", {"quantity": "5"}).status_code == 404
    assert client.post(f"/stock/movements/{issued.pk}/return/").status_code == 404
    assert on_hand(lot) == 16


def test_what_was_added_by_hand_to_a_lot_is_reversed_by_itself(user, lot):
    more = services.receive_more(organisation=lot.organisation, user=user, lot=lot, quantity=5)
    ledger.reverse(organisation=lot.organisation, user=user, movement=more, reason="wrong rack")
    assert on_hand(lot) == 20


# Put back


def test_an_issue_just_made_is_put_back_in_one_tap(signed_in, user, lot):
    signed_in.post(f"/stock/lots/{lot.pk}/issue/?label=1", {"quantity": "4", "reason": "gate"})
    issued = Movement.objects.get(kind="issue")
    address = f"/stock/movements/{issued.pk}/return/?label=1"
    for page in ("/l/RACK-1/", f"/stock/lots/{lot.pk}/"):
        assert "Return 4" in text_of(signed_in.get(page))
    assert address in signed_in.get("/l/RACK-1/").content.decode()
    assert signed_in.post(address, {"once": "t1"}).url == "/l/RACK-1/"
    # Pressed twice, and once more from a page that was open all the time.
    signed_in.post(address, {"once": "t1"})
    page = text_of(signed_in.post(address, {"once": "t2"}, follow=True))
    assert "are back in RACK-1 already" in page
    assert "Return 4" not in page
    assert on_hand(lot) == 20
    [back] = Movement.objects.filter(reverses=issued)
    assert (back.kind, back.quantity, back.by) == ("issue", 4, user)
    assert not list(differences())


def test_only_the_last_issue_of_a_lot_is_put_back(signed_in, user, lot):
    first, second = issue(lot, user, 4), issue(lot, user, 3)
    with pytest.raises(ValidationError, match="Something else was recorded"):
        put_back(lot, user, first)
    assert "Return 3" in text_of(signed_in.get("/l/RACK-1/"))
    services.return_pieces(organisation=lot.organisation, user=user, lot=lot, quantity=1, reason="one too many")
    assert "Just issued" not in text_of(signed_in.get("/l/RACK-1/"))
    with pytest.raises(ValidationError, match="Something else was recorded"):
        put_back(lot, user, second)
    assert on_hand(lot) == 14


def test_an_old_issue_and_what_was_cut_are_not_offered(signed_in, user, lot):
    issued = issue(lot, user)
    later = timezone.now() + ledger.JUST_NOW + timedelta(minutes=1)
    with patch("farmbuild.stock.ledger.timezone.now", return_value=later):
        assert ledger.issue_to_put_back(lot=lot) is None
        with pytest.raises(ValidationError, match="a while has passed"):
            put_back(lot, user, issued)
    assert ledger.issue_to_put_back(lot=lot) == issued
    signed_in.post(f"/stock/lots/{lot.pk}/cut/", {"sticks": "1", "length_1": "4'", "each_1": "1", "reason": "gate"})
    page = signed_in.get(f"/stock/lots/{lot.pk}/cut/")
    drawn = (
        signed_in.post(f"/stock/lots/{lot.pk}/cut/", {"sticks": "1", "length_1": "4'", "each_1": "1", "reason": "gate"})
        .context["form"]["drawn"]
        .value()
    )
    sent = {"sticks": "1", "length_1": "4'", "each_1": "1", "reason": "gate", "drawn": drawn, "cut": "1"}
    assert signed_in.post(f"/stock/lots/{lot.pk}/cut/?label=1", sent).url == "/l/RACK-1/"
    assert page.status_code == 200
    assert ledger.issue_to_put_back(lot=lot) is None


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
def test_two_people_put_the_same_issue_back_at_once(user, lot):
    issued = issue(lot, user)

    def press(_):
        try:
            put_back(lot, user, issued)
            return True
        except ValidationError:
            return False
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        assert sum(pool.map(press, range(6))) == 1
    assert on_hand(lot) == 20
    assert Movement.objects.filter(reverses=issued).count() == 1


# Lend


def test_lending_is_on_the_phone_page_with_who_and_when_back(signed_in, lot):
    address = f"/stock/lots/{lot.pk}/lend/?label=1"
    assert f'formaction="/stock/lots/{lot.pk}/lend/"' in signed_in.get("/l/RACK-1/").content.decode()
    back_on = timezone.localdate() + timedelta(days=14)
    sent = {"quantity": "5", "borrower": "Ana Ruiz", "back_on": back_on.isoformat(), "reason": "her tunnel"}
    assert signed_in.post(address, sent).url == "/l/RACK-1/"
    loan = Movement.objects.get(kind="lend")
    assert (loan.quantity, loan.borrower, loan.back_on) == (-5, "Ana Ruiz", back_on)
    page = signed_in.get("/l/RACK-1/")
    assert "5 lent to Ana Ruiz" in text_of(page)
    assert f"/stock/movements/{loan.pk}/loan-return/" in page.content.decode()
    assert "Back by" in text_of(signed_in.get(f"/stock/movements/{loan.pk}/"))
    with patch("farmbuild.stock.ledger_tables.today", return_value=back_on + timedelta(days=1)):
        assert "late" in text_of(signed_in.get("/stock/loans/"))
    ledger.reverse(organisation=lot.organisation, user=loan.by, movement=loan, reason="stays here")
    assert "Ana Ruiz" not in text_of(signed_in.get("/l/RACK-1/"))


@pytest.mark.parametrize("days", [-1, 731])
def test_a_day_that_cannot_be_is_said_at_the_field(signed_in, lot, days):
    day = timezone.localdate() + timedelta(days=days)
    sent = {"quantity": "5", "borrower": "Ana Ruiz", "back_on": day.isoformat(), "reason": "her tunnel"}
    answer = signed_in.post(f"/stock/lots/{lot.pk}/lend/", sent)
    assert answer.context["form"].errors["back_on"]
    assert on_hand(lot) == 20


# Cut


def test_once_drawn_the_thumb_button_cuts(signed_in, lot):
    asked = {"sticks": "1", "length_1": "4'", "each_1": "2", "reason": "gate"}
    thumb = '<div class="thumb"><button class="action"'
    page = signed_in.get(f"/stock/lots/{lot.pk}/cut/").content.decode()
    assert f"{thumb}>Draw the cut</button>" in page
    page = signed_in.post(f"/stock/lots/{lot.pk}/cut/", asked).content.decode()
    assert f'{thumb} name="cut" value="1">Cut 1 stick like this</button>' in page
    assert page.count('class="action"') == 1
    # Enter in a box presses the first button of the form, which only draws.
    assert page.index("Draw it again") < page.index("like this</button>")
