"""Pages of a member: common stock that is open to it, what it asks for, and what it was given."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from farmbuild.common.pages import run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.common import selectors, services
from farmbuild.coop.common.drawings import open_drawn
from farmbuild.coop.common.forms import WishForm
from farmbuild.coop.common.presenters import wish_facts
from farmbuild.coop.common.tables import OpenTable, OwnWishTable
from farmbuild.coop.common.words import State, lot_item_words, own_answer, own_wish_answer
from farmbuild.coop.members.seeing import as_member
from farmbuild.crew.models import Member


def _page(request: HttpRequest, name: str, member: Member, context: dict[str, Any]) -> HttpResponse:
    base = {"member": member, "lender": member.organisation}
    return render(request, f"coop/common/seen/{name}.html", base | context)


@require_safe
@as_member
def common(request: HttpRequest, member: Member) -> HttpResponse:
    """What is open to the member, and all that it asked for."""
    lender = member.organisation
    table = OpenTable(selectors.offers_to(member=member), organisation=lender)
    paged(request, table)
    wishes = OwnWishTable(selectors.wishes_of_member(member=member), organisation=lender, prefix="w-")
    paged(request, wishes)
    offers, waiting = selectors.counts_of_member(member=member)
    context = {
        "table": table,
        "count": offers,
        "wishes": wishes,
        "wished": wishes.paginator.count,
        "answer": own_answer(offers=offers, waiting=waiting),
        "drawing": open_drawn([row.record for row in table.paginated_rows], lender),
    }
    return _page(request, "list", member, context)


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def offer(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    """One lot that is open to the member; posting asks for pieces of it."""
    lender = member.organisation
    found = get_object_or_404(selectors.offers_to(member=member), pk=pk)
    form = WishForm(request.POST or None, organisation=lender)
    answer = save_form(
        request,
        form,
        lambda data: services.wish_for(member=member, user=request.user, offer=found, **data),
        message=gettext("Asked for. The pieces are kept for you until it is answered."),
        redirect_to=reverse("coop:seen-common", args=[lender.slug]),
    )
    context = {
        "offer": found,
        "what": lot_item_words(found.lot, lender),
        "drawing": open_drawn([found], lender),
        "form": form if found.left else None,
    }
    return answer or _page(request, "offer", member, context)


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def wish(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    """One request of the member; posting withdraws it."""
    lender = member.organisation
    found = get_object_or_404(selectors.wishes_of_member(member=member), pk=pk)
    if request.method == "POST":
        return run_action(
            request,
            lambda: services.withdraw_wish(member=member, user=request.user, wish=found),
            message=gettext("Withdrawn. The pieces are free for others."),
            redirect_to=reverse("coop:seen-common", args=[lender.slug]),
            refused_redirect_to=request.path,
        )
    context = {
        "wish": found,
        "what": lot_item_words(found.offer.lot, lender),
        "answer": own_wish_answer(found),
        "facts": wish_facts(found, own=True),
        "is_open": found.state == State.OPEN,
        "in_stock": found.farm_lot if request.organisation else None,
    }
    return _page(request, "wish", member, context)
