"""In a database of before members could be farms, all that sign in are moved over with nothing lost."""

from __future__ import annotations

from django.db import transaction
from django.test import Client
from django.urls import reverse

from farmbuild.access.models import SecondStep
from farmbuild.coop.members.services import move_all_over
from farmbuild.crew.models import BenderBooking, BenderRequest, CalendarFeed, MemberSignIn
from farmbuild.orgs.models import Membership, User


def test_members_that_signed_in_are_moved_over_with_all_that_is_theirs(one_kept):
    with transaction.atomic():
        moved_over_whole()
        # Others read the same database after this.
        transaction.set_rollback(True)


def moved_over_whole() -> None:
    before = (
        MemberSignIn.objects.filter(shut_at=None, user__visitor=True).select_related("member__organisation").first()
    )
    member, lender, password = before.member, before.member.organisation, before.user.password
    owner = Membership.objects.filter(organisation=lender, role="owner").order_by("pk").first().user
    tables = (BenderBooking, BenderRequest, CalendarFeed, SecondStep)
    rows = {model: list(model.objects.order_by("pk").values_list()) for model in tables}
    theirs = list(BenderBooking.objects.filter(member=member).values_list("pk", flat=True))
    assert theirs

    moved = move_all_over(organisation=lender, user=owner)
    assert member in {row.member for row in moved.farms}
    assert rows == {model: list(model.objects.order_by("pk").values_list()) for model in tables}
    user = User.objects.get(pk=before.user_id)
    assert (user.visitor, user.password) == (False, password)
    client = Client()
    client.force_login(user)
    assert client.get("/borrowing/", follow=True).redirect_chain[-1][0] == reverse("coop:seen", args=[lender.slug])
    for booking in theirs:
        assert client.get(reverse("crew:own-booking", args=[lender.slug, booking])).status_code == 200
    assert move_all_over(organisation=lender, user=owner).farms == []
