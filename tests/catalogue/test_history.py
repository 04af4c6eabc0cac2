"""What offers said, and since when; lead times that nobody has said."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction
from django.urls import reverse

from farmbuild.catalogue import services
from farmbuild.catalogue.models import Offer, OfferRecord
from farmbuild.orgs.clock import today_of
from tests.catalogue.test_services import BREAKS, offer
from tests.factories import FOOT, OfferFactory, SupplierFactory

pytestmark = pytest.mark.django_db
Kind = OfferRecord.Kind


def saved_again(row, user=None, breaks=BREAKS, **changes):
    data = {"material": row.material, "length": row.length, "pack": row.pack, "lead_days": row.lead_days} | changes
    return services.save_offer(
        organisation=row.organisation, user=user, supplier=row.supplier, data=data, breaks=breaks, offer=row
    )


def test_each_price_is_kept_with_day_and_who(organisation, user):
    row = offer(organisation)
    saved_again(row, user=user, breaks=[(1, Decimal("15.0000"))])
    first, second = OfferRecord.objects.all()
    assert first.breaks == BREAKS and first.by is None
    assert second.breaks == [(1, Decimal(15))]
    assert (second.by, second.since, second.currency) == (user, today_of(organisation=organisation), "USD")


def test_saving_the_same_again_keeps_nothing_new(organisation):
    row = offer(organisation)
    saved_again(row)
    assert OfferRecord.objects.count() == 1
    saved_again(row, lead_days=None)
    assert OfferRecord.objects.last().lead_days is None


def test_history_outlives_the_offer(organisation, user):
    row = offer(organisation)
    services.remove_offer(organisation=organisation, user=user, offer=row)
    assert not Offer.objects.exists()
    assert [said.kind for said in OfferRecord.objects.all()] == [Kind.TYPED, Kind.REMOVED]


def test_never_edited(organisation):
    offer(organisation)
    with pytest.raises(IntegrityError), transaction.atomic():
        OfferRecord.objects.update(since=date(2020, 1, 1))


def test_history_begins_with_what_is_there_at_the_upgrade(organisation):
    """Offers as an earlier version left them have no record; stored zeros stay zeros."""
    row = OfferFactory(supplier=SupplierFactory(organisation=organisation), lead_days=0)
    assert not OfferRecord.objects.exists()
    import_module("farmbuild.catalogue.migrations.0007_history_of_before").keep(apps, None)
    (said,) = OfferRecord.objects.all()
    assert (said.kind, said.offer_key, said.lead_days) == (Kind.BEFORE, row.pk, 0)
    assert said.breaks == [(one.from_quantity, one.unit_price) for one in row.breaks.all()]


def page(client, row):
    return client.get(reverse("catalogue:supplier", args=[row.supplier.code])).content.decode()


def test_the_form_leaves_it_open_and_the_page_asks(signed_in, organisation):
    row = offer(organisation, lead_days=None)
    other = offer(organisation, supplier=row.supplier, length=FOOT * 20, lead_days=3)
    said = page(signed_in, row)
    assert "Lead time not known" in said and "of 1 offer" in said and "not known" in said
    shown = signed_in.get(reverse("catalogue:offer-new", args=[row.supplier.code]))
    assert shown.context["form"]["lead_days"].value() is None
    address = reverse("catalogue:lead-time", args=[row.supplier.code])
    refused = signed_in.post(address, {"days": "soon"})
    assert (
        "Type a whole number from 0 to 730" in refused.content.decode() and 'value="soon"' in refused.content.decode()
    )
    signed_in.post(address, {"days": "9"})
    row.refresh_from_db()
    other.refresh_from_db()
    assert (row.lead_days, other.lead_days) == (9, 3)
    assert OfferRecord.objects.last().lead_days == 9
    assert "Lead time not known" not in page(signed_in, row)
    # Pressed again nothing is left to set.
    signed_in.post(address, {"days": "4"})
    row.refresh_from_db()
    assert row.lead_days == 9


def test_of_another_organisation_is_not_there(signed_in):
    code = SupplierFactory(code="theirs").code
    assert signed_in.post(reverse("catalogue:lead-time", args=[code]), {"days": "1"}).status_code == 404
