"""Pages of the cooperative: which of its members are farms here, and how they become one."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.access import handing
from farmbuild.access.presenters import card_of
from farmbuild.common.pages import ROWS, actor_kwargs, run_action
from farmbuild.common.paging import paged
from farmbuild.coop.members import services
from farmbuild.coop.members.presenters import member_facts, members_facts
from farmbuild.coop.members.tables import FarmsOfMembersTable
from farmbuild.coop.members.words import moved_words
from farmbuild.crew.bookings.selectors import any_member_of
from farmbuild.crew.models import Member


@require_GET
def show_all(request: HttpRequest) -> HttpResponse:
    facts = members_facts(request.organisation)
    table = FarmsOfMembersTable(facts["members"], organisation=request.organisation)
    paged(request, table, rows=ROWS)
    return render(request, "coop/members/members.html", facts | {"table": table})


@require_http_methods(["GET", "HEAD", "POST"])
def move_all(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return render(request, "coop/members/move_all.html", members_facts(request.organisation))
    moved = services.move_all_over(**actor_kwargs(request))
    messages.success(request, moved_words(moved))
    for member, why in moved.left:
        messages.info(request, gettext("%(member)s stays as it was: %(why)s") % {"member": member, "why": why})
    return redirect("coop:members")


def _member(request: HttpRequest, slug: str) -> Member:
    return get_object_or_404(any_member_of(organisation=request.organisation), slug=slug)


def _address(slug: str) -> str:
    return reverse("coop:member", args=[slug])


@require_GET
def show(request: HttpRequest, slug: str) -> HttpResponse:
    return render(request, "coop/members/member.html", member_facts(_member(request, slug)))


@require_POST
def move(request: HttpRequest, slug: str) -> HttpResponse:
    member = _member(request, slug)
    return run_action(
        request,
        lambda: services.move_over(**actor_kwargs(request), member=member),
        message=gettext("%(member)s has its farm here now.") % {"member": member},
        redirect_to=_address(slug),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def end(request: HttpRequest, slug: str) -> HttpResponse:
    """Asks first."""
    member = _member(request, slug)
    facts = member_facts(member)
    if request.method != "POST":
        return render(request, "coop/members/end.html", facts)
    return run_action(
        request,
        lambda: services.end_farm(**actor_kwargs(request), member=member),
        message=" ".join(
            [gettext("Ended. The farm sees nothing of %(member)s any more.") % {"member": member}, *facts["ends"]]
        ),
        redirect_to=_address(slug),
    )


@require_POST
def new_card(request: HttpRequest, slug: str) -> HttpResponse:
    member = _member(request, slug)
    try:
        handed = services.make_card(**actor_kwargs(request), member=member)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(_address(slug))
    path = reverse("coop:member-card", args=[slug])
    return handing.carry(redirect(path), handed, path=path)


@never_cache
@require_GET
def show_card(request: HttpRequest, slug: str) -> HttpResponse:
    """Link and code are shown to whoever made them, for a few minutes; kept they are nowhere."""
    facts = member_facts(_member(request, slug))
    row = facts["open_card"]
    handed = handing.carried(request, row) if row else None
    absolute = request.build_absolute_uri
    card = card_of(handed, absolute, link="coop:card-link", page="coop:card-code") if handed else None
    return render(request, "coop/members/card.html", facts | {"card": card})


@require_POST
def end_card(request: HttpRequest, slug: str) -> HttpResponse:
    member = _member(request, slug)
    return run_action(
        request,
        lambda: services.withdraw_card(**actor_kwargs(request), member=member),
        message=gettext("The card is withdrawn. Its link and its code do nothing any more."),
        redirect_to=_address(slug),
    )
