"""Leave on the page of a member's lot: recorded as the owner told it, and ended."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.stock.models import Leave
from farmbuild.stock.services import receive_lot
from tests.factories import LotFactory, MaterialFactory, MemberFactory, PlaceFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def like(organisation):
    return LotFactory(
        material=MaterialFactory(organisation=organisation), place=PlaceFactory(organisation=organisation)
    )


@pytest.fixture
def mine(organisation, user, like):
    return receive_lot(
        organisation=organisation,
        user=user,
        material=like.material,
        length=like.length,
        quantity=10,
        place=like.place,
        received_on=like.received_on,
        owner=MemberFactory(organisation=organisation, name="Ana Ruiz"),
    )


def test_leave_is_recorded_shown_and_ended(signed_in, mine):
    page = reverse("stock:lot", args=[mine.pk])
    assert "No leave was given yet." in text_of(signed_in.get(page))
    address = reverse("stock:lot-leave", args=[mine.pk])
    refused = signed_in.post(address, {"quantity": "11", "told": "by telephone"})
    assert "has 10 pieces" in text_of(refused)
    signed_in.post(address, {"quantity": "4", "told": "by telephone"})
    shown = text_of(signed_in.get(page))
    assert "4 pieces for whatever you build; 4 left." in shown
    assert "As told: by telephone." in shown
    leave = Leave.objects.get()
    signed_in.post(reverse("stock:lot-leave-end", args=[leave.pk]), {"reason": "Ana needs them"})
    assert "ended: Ana needs them" in text_of(signed_in.get(page))


def test_lots_are_narrowed_to_an_owner_and_only_a_member_s_lot_has_leave(signed_in, mine, like):
    listed = text_of(signed_in.get(reverse("stock:lots"), {"owner": mine.owner.slug}))
    assert mine.reference in listed
    assert like.reference not in listed
    assert "Ana Ruiz" in listed
    assert signed_in.get(reverse("stock:lot-leave", args=[like.pk])).status_code == 404
