"""Which member a request is of: the sign-in of a visitor says it, or the farm for which somebody signed in."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext

from farmbuild.crew.bookings.signins import sign_in_of
from farmbuild.crew.models import Member
from farmbuild.crew.signals import asking_farms_of_member, asking_members_of_farm
from farmbuild.orgs.acts import Act, acts_of
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation, User

#: Who may ask for benders, and what else a member does, for a farm.
DOES = frozenset({Act.PLAN, Act.BENDERS})


def as_member(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Calls ``view(request, member, …)`` for an address that has the slug of the cooperative as ``lender``.

    By the clock and in the numbers of the cooperative. Nobody else is told that there is such a page.
    """

    @wraps(view)
    def wrapped(request: HttpRequest, lender: str, **kwargs: Any) -> HttpResponse:
        member = next((row for row in members_of(request) if row.organisation.slug == lender), None)
        if member is None:
            raise Http404(gettext("Not a member of a cooperative of this name."))
        with zone_in_force(member.organisation):
            return view(request, member, **kwargs)

    return wrapped


def members_of(request: HttpRequest) -> list[Member]:
    """With their cooperatives, by name; a visitor has one at most, a farm one in each of its cooperatives."""
    if request.user.visitor:
        sign_in = sign_in_of(user=request.user)
        return [sign_in.member] if sign_in else []
    farm = request.organisation
    return _members_of_farm(farm) if farm and Act.SEE in request.acts else []


def _members_of_farm(farm: Organisation) -> list[Member]:
    answers = asking_members_of_farm.send(Organisation, farm=farm)
    found = [row for _, rows in answers for row in rows if row.archived_at is None]
    return sorted(found, key=lambda row: (row.organisation.name, row.pk))


def check_acts_for(*, member: Member, user: User) -> None:
    """Within a service by which a member does something: raises PermissionDenied where this is nobody of the member.

    Somebody of it is whoever has an open sign-in of it, or may plan or run benders at its farm.
    """
    if user.visitor:
        sign_in = sign_in_of(user=user)
        may = sign_in is not None and sign_in.member_id == member.pk
    else:
        farms = [farm for _, rows in asking_farms_of_member.send(Member, member=member) for farm in rows]
        may = any(DOES & acts_of(organisation=farm, user=user) for farm in farms)
    if not may:
        raise PermissionDenied(gettext("This is another member's."))
