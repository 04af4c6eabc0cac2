"""An order for houses at two sites goes to both in one press: split in whole packs, with what each house holds."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db.models import Sum

from farmbuild.buying.drafting.by_site import deliver_by_site, moves_by_site
from farmbuild.buying.services import send_order
from farmbuild.plans.balance import balances
from farmbuild.stock.models import Reservation
from tests.factories import MembershipFactory
from tests.plans.small_season import AS_OF
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def pipe(accepted):
    """To North Field: 40 sticks of rail in packs of 10, of which North 1 holds 6 and Creek 1 26, and posts for both."""
    return accepted.orders.get(supplier__code="a-pipe")


def held_at(line) -> dict[str, int]:
    rows = Reservation.objects.filter(order_line=line).values_list("house__site__name").order_by("house__site__name")
    return dict(rows.annotate(sum=Sum("quantity")))


def rails(order) -> list[tuple[str, int, dict[str, int]]]:
    lines = order.lines.filter(material__code="rail").order_by("position")
    return [(line.deliver_to.name, line.quantity, held_at(line)) for line in lines]


def test_each_line_goes_to_its_houses_and_costs_the_same(pipe, user, season):
    assert rails(pipe) == [("North Field", 40, {"Creek Bottom": 26, "North Field": 6})]
    before = (pipe.goods, pipe.delivery, pipe.tax, pipe.total)
    deliver_by_site(organisation=pipe.organisation, user=user, order=pipe)
    # 26 are three packs; the fourth stays with the 6 of North, and 4 and 4 of them are free.
    assert rails(pipe) == [("North Field", 10, {"North Field": 6}), ("Creek Bottom", 30, {"Creek Bottom": 26})]
    for line in pipe.lines.all():
        assert set(held_at(line)) <= {line.deliver_to.name}
    pipe.refresh_from_db()
    assert (pipe.goods, pipe.delivery, pipe.tax, pipe.total) == before
    # 10 and 30 at 13.335 are 133.35 and 400.05, as 40 are 533.40.
    of_rail = pipe.lines.filter(material__code="rail").values_list("line_total", flat=True)
    assert sorted(of_rail) == [Decimal("133.35"), Decimal("400.05")] and sum(of_rail) == Decimal("533.40")
    assert sum(pipe.lines.values_list("line_total", flat=True)) == pipe.goods
    found = balances(organisation=season.organisation, houses=season.houses)
    assert not any(one.short for one in found.values())
    assert moves_by_site(order=pipe) == []


def test_a_line_of_another_site_alone_goes_there_whole(pipe, user, season):
    line = pipe.lines.get(material__code="rail")
    Reservation.objects.filter(order_line=line, house=season.houses[0]).delete()
    deliver_by_site(organisation=pipe.organisation, user=user, order=pipe)
    assert rails(pipe) == [("Creek Bottom", 40, {"Creek Bottom": 26})]


def test_pressed_on_the_page_and_again(signed_in, pipe):
    page = text_of(signed_in.get("/orders/1-1/"))
    assert "for houses at another site" in page and "Deliver to the sites of the houses" in page
    page = text_of(signed_in.post("/orders/1-1/by-site/", follow=True))
    assert "The lines go to the sites of their houses now." in page and "changed by hand" in page.lower()
    assert "Deliver to the sites of the houses" not in page
    count = pipe.lines.count()
    assert "goes to the site of its houses already" in text_of(signed_in.post("/orders/1-1/by-site/", follow=True))
    assert pipe.lines.count() == count


def test_not_once_it_is_sent_and_not_by_others(client, signed_in, pipe, user):
    send_order(organisation=pipe.organisation, user=user, order=pipe, sent_on=AS_OF, how="")
    lines = list(pipe.lines.values())
    with pytest.raises(ValidationError, match="not changed any more"):
        deliver_by_site(organisation=pipe.organisation, user=user, order=pipe)
    assert "not changed any more" in text_of(signed_in.post("/orders/1-1/by-site/", follow=True))
    client.force_login(MembershipFactory().user)
    assert client.post("/orders/1-1/by-site/").status_code == 404
    assert list(pipe.lines.values()) == lines


def test_as_many_queries_for_many_lines(pipe, django_assert_num_queries):
    for line in list(pipe.lines.all()):
        for _ in range(20):
            line.pk, line.position, line.reserved = None, pipe.lines.count() + 1, 0
            line.save(force_insert=True)
    with django_assert_num_queries(3):
        moves_by_site(order=pipe)
