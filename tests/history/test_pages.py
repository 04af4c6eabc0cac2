"""Pages: what changed on a record, in the list of an organisation, in one act, and as a file."""

from __future__ import annotations

import csv
import io
import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import RequestFactory
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from farmbuild.catalogue.models import PriceBreak
from farmbuild.history.models import Entry
from farmbuild.history.presenters import LAST, last_of
from farmbuild.history.recording import recorded
from farmbuild.sites.models import House, Site
from tests.factories import HouseFactory, MembershipFactory, OfferFactory, OrganisationFactory, SiteFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def act(organisation, user):
    return lambda who=user: recorded(user=who, organisation=organisation)


@pytest.fixture
def house(organisation):
    return HouseFactory(site__organisation=organisation, name="North 2")


def fold(page: str) -> str:
    (found,) = re.findall(r'<details class="what-changed.*?</details>', page, re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", found).split())


def test_a_form_that_is_sent_is_told_on_the_page_of_its_record(signed_in, organisation, user):
    site = SiteFactory(organisation=organisation, name="Creek")
    form = signed_in.get(reverse("sites:site-edit", args=[site.slug])).context["form"]
    data = {name: form[name].value() or "" for name in form.fields} | {"name": "Creek bottom", "note": "By the gate"}
    assert signed_in.post(reverse("sites:site-edit", args=[site.slug]), data).status_code == 302
    said = fold(text_of(signed_in.get(site.get_absolute_url())))
    assert f"{user.display_name}: changed" in said
    assert "Name: Creek to Creek bottom" in said and "Note: nothing to By the gate" in said
    signed_in.post(reverse("sites:site-archive", args=[site.slug]))
    assert [*Entry.objects.order_by("pk").values_list("deed", flat=True)] == ["changed", "archived"]


def test_a_form_that_is_refused_leaves_none(signed_in, organisation):
    site = SiteFactory(organisation=organisation, name="Creek")
    signed_in.post(reverse("sites:site-edit", args=[site.slug]), {"name": ""})
    assert not Entry.objects.exists()


def test_before_anything_changed_the_page_says_so(signed_in, house):
    assert "Nobody has changed it since changes are kept." in fold(text_of(signed_in.get(house.get_absolute_url())))
    assert "Nobody has changed anything" in text_of(signed_in.get(reverse("history:changes")))


def test_the_last_ten_are_on_the_page_and_the_way_to_all(act, house, user, organisation, django_assert_num_queries):
    for n in range(LAST + 2):
        with act():
            House.objects.filter(pk=house.pk).update(name=f"North {n}")
    request = RequestFactory().get("/")
    request.organisation, request.user = organisation, user
    with django_assert_num_queries(1):
        found = last_of(house, request)
    assert (len(found["entries"]), found["more"], found["kind"]) == (LAST, True, "house")


def test_the_list_is_narrowed_by_person_kind_record_and_day(signed_in, act, house, organisation, user):
    other = MembershipFactory(organisation=organisation).user
    with act():
        House.objects.filter(pk=house.pk).update(length=Decimal(9_000))
        Site.objects.filter(pk=house.site_id).update(note="Wet")
    with act(other):
        Site.objects.filter(pk=house.site_id).update(note="Dry")
    today = timezone.localdate()

    def records(**asked):
        table = signed_in.get(reverse("history:changes"), asked).context["table"]
        return [(entry.user_id, entry.kind) for entry in table.data]

    # One act one line.
    assert records() == [(other.pk, "site"), (user.pk, "house")]
    assert records(user=other.pk) == [(other.pk, "site")]
    assert records(kind="site") == [(other.pk, "site"), (user.pk, "site")]
    assert records(kind="house", record=house.pk) == [(user.pk, "house")]
    assert records(kind="house", record=house.pk + 1) == []
    assert records(since=today - timedelta(1), until=today + timedelta(1)) == records()
    assert records(since=today + timedelta(2)) == records(until=date(2001, 1, 1)) == []
    for nonsense in ({"user": "x"}, {"kind": "x"}, {"since": "x"}, {"record": "9" * 40}, {"until": "0001-01-01"}):
        assert records(**nonsense) == records()


def test_one_act_has_all_its_records_with_the_way_to_them(signed_in, act, house):
    with act():
        House.objects.filter(pk=house.pk).update(archived_at=timezone.now(), length=Decimal(9_000))
        Site.objects.filter(pk=house.site_id).update(note="Wet")
    entry = Entry.objects.get(kind="house")
    page = signed_in.get(reverse("history:act", args=[entry.act]))
    said = text_of(page)
    assert "2 records at once" in said and house.get_absolute_url() in said and "nothing to Wet" in said
    assert "archived house North 2" in said


def test_what_is_gone_leads_nowhere(signed_in, act, organisation):
    offer = OfferFactory(supplier__organisation=organisation)
    with act():
        offer.lead_days = 77
        offer.save()
    first = Entry.objects.get()
    address = reverse("catalogue:offer", args=[offer.supplier.code, offer.pk])
    assert address in text_of(signed_in.get(reverse("history:act", args=[first.act])))
    with act():
        offer.delete()
    assert address not in text_of(signed_in.get(reverse("history:act", args=[first.act])))


def test_nobody_reads_those_of_another_organisation(signed_in, house):
    elsewhere = OrganisationFactory()
    stranger = MembershipFactory(organisation=elsewhere).user
    with recorded(user=stranger, organisation=elsewhere):
        SiteFactory(organisation=elsewhere, name="Not yours")
    entry = Entry.objects.get()
    assert signed_in.get(reverse("history:act", args=[entry.act])).status_code == 404
    for address in ("history:changes", "history:csv"):
        assert b"Not yours" not in signed_in.get(reverse(address)).content


def test_prices_are_for_those_who_see_costs(act, organisation, user):
    offer = OfferFactory(supplier__organisation=organisation)
    with act():
        PriceBreak.objects.filter(offer=offer).update(unit_price=Decimal("98.76"))
    request = RequestFactory().get("/")
    request.organisation, request.user = organisation, user
    for acts, seen in ((frozenset({"see"}), False), (frozenset({"see", "costs"}), True)):
        request.acts = acts
        ((_, _, changes, _),) = last_of(offer, request)["entries"]
        assert ("$98.76" in str(changes)) is seen


def test_files_have_a_row_a_change_and_no_formula(signed_in, act, organisation):
    site = SiteFactory(organisation=organisation, name="Creek")
    with act():
        Site.objects.filter(pk=site.pk).update(note="=1+1", address="Lane 3")
    rows = [*csv.reader(io.StringIO(signed_in.get(reverse("history:csv")).content.decode("utf-8-sig")))]
    assert rows[0] == ["When", "Who", "Did", "Record", "What", "From", "To"]
    assert {tuple(row[4:]) for row in rows[1:]} == {("Note", "nothing", "'=1+1"), ("Address", "nothing", "Lane 3")}
    book = load_workbook(io.BytesIO(signed_in.get(reverse("history:workbook")).content))
    cells = {cell.value: cell for row in book.active.iter_rows() for cell in row}
    assert cells["=1+1"].data_type == "s" and cells["=1+1"].quotePrefix
    nothing = [
        *csv.reader(io.StringIO(signed_in.get(reverse("history:csv"), {"kind": "house"}).content.decode("utf-8-sig")))
    ]
    assert len(nothing) == 1


def test_files_cost_as_much_for_many(signed_in, act, organisation, django_assert_max_num_queries):
    sites = [SiteFactory(organisation=organisation) for _ in range(30)]
    with act():
        Site.objects.filter(pk__in=[site.pk for site in sites]).update(note="All")
    with django_assert_max_num_queries(7):
        assert signed_in.get(reverse("history:csv")).content.count(b"All") == 30
