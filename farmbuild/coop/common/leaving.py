"""A farm is a member no more: what its plans asked for is free again, since its houses can get it no more.

What somebody asked for by hand stays the member's, until the cooperative answers.
"""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.coop.common.services import take_wish_back
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.crew.models import Member
from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.models import Lot


def _asked(member: Member, farm: Organisation) -> QuerySet[CommonWish]:
    rows = CommonWish.objects.filter(member=member, plan__organisation=farm, state=CommonWish.State.OPEN)
    return rows.select_related("offer__lot").order_by("offer__lot", "pk")


def tell_what_ends(sender: Any, *, member: Member, farm: Organisation, **more: Any) -> list[str]:
    pieces = _asked(member, farm).order_by().aggregate(sum=Sum("quantity"))["sum"]
    if not pieces:
        return []
    said = f"{count_noun(pieces, 'piece')} of common stock"
    return [f"Plans of {farm} count on {said}; this is withdrawn, and free for others."]


def withdraw_what_plans_asked(sender: Any, *, member: Member, farm: Organisation, user: User, **more: Any) -> None:
    # Whoever accepts a plan holds these lots first: it comes before, and is seen here, or finds nothing open to it.
    offers = CommonOffer.objects.of(member.organisation).filter(Q(ended_at=None) | Q(wished__gt=0))
    list(
        Lot.objects.filter(pk__in=offers.values("lot")).order_by("pk").select_for_update(of=("self",)).values_list("pk")
    )
    for wish in _asked(member, farm):
        take_wish_back(member=member, user=user, wish=wish, why=f"{farm} is no member any more")


def refuse_while_pieces_wait(sender: Any, *, member: Member, **more: Any) -> None:
    """Raise ValidationError where a member that is to be archived has requests that nobody answered."""
    rows = CommonWish.objects.filter(member=member, state=CommonWish.State.OPEN).order_by()
    if pieces := rows.aggregate(sum=Sum("quantity"))["sum"]:
        raise ValidationError(
            gettext("%(member)s asks for %(pieces)s of common stock. Answer that first.")
            % {"member": member, "pieces": said_count(pieces, "piece")}
        )
