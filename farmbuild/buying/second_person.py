"""An order above what one person may send is asked for by them and sent by another.

The amount is the order's total, with delivery and tax, in its currency. What was asked for lapses when the order is
changed (``drafting/store.py``).
"""

from __future__ import annotations

from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder
from farmbuild.common.speaking import said_either
from farmbuild.orgs.acts import Act, acts_given
from farmbuild.orgs.models import Membership, Organisation, User


def asks_only(*, order: PurchaseOrder, user: User | None) -> bool:
    """Whether ``user`` asks for the order rather than sends it: above their own limit, or above that of the
    organisation while nobody else has asked."""
    if user is None:
        return False
    rows = Membership.objects.filter(organisation=order.organisation_id, user=user)
    limit = rows.values_list("send_limit", flat=True).first()
    if limit is not None and order.total > limit:
        return True
    return _takes_two(order) and (order.asked_at is None or order.asked_by_id == user.pk)


def ask(*, order: PurchaseOrder, user: User | None) -> None:
    """``order`` is held. Whoever asked first stays."""
    if order.asked_at is None:
        order.asked_at, order.asked_by = timezone.now(), user
        order.save(update_fields=["asked_at", "asked_by"])


def who_may_send(*, order: PurchaseOrder) -> list[User]:
    """Everybody who may send an order that waits, as it stands."""
    rows = Membership.objects.filter(organisation=order.organisation_id, user__is_active=True, user__visitor=False)
    two = _takes_two(order)
    return [
        row.user
        for row in rows.select_related("user").order_by("pk")
        if Act.SEND in acts_given(role=row.role, without=row.without, also=row.also)
        and (row.send_limit is None or order.total <= row.send_limit)
        and not (two and row.user_id == order.asked_by_id)
    ]


def waits_words(*, order: PurchaseOrder) -> str:
    """Odile or Sam may send it. Empty where the order does not wait."""
    if not order.waits_for_second:
        return ""
    names = [user.display_name for user in who_may_send(order=order)]
    return (
        gettext("%(names)s may send it.") % {"names": said_either(names)}
        if names
        else gettext("Nobody here may send that much: ask an owner.")
    )


def _takes_two(order: PurchaseOrder) -> bool:
    above = Organisation.objects.values_list("two_people_above", flat=True).get(pk=order.organisation_id)
    return above is not None and order.total > above
