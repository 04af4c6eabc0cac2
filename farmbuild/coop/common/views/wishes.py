"""Pages of the cooperative: what members ask for of common stock, given or declined."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from farmbuild.common.pages import OrgList, actor_kwargs, run_action, save_form
from farmbuild.coop.common import selectors, services
from farmbuild.coop.common.forms import DeclineForm
from farmbuild.coop.common.presenters import wish_facts
from farmbuild.coop.common.tables import WishTable
from farmbuild.coop.common.words import State, answered_words, lot_item_words, wish_answer, wishes_answer
from farmbuild.coop.models import CommonWish


class WishList(OrgList):
    """Those that wait, or with ``?answered=1`` those that were answered."""

    table_class = WishTable
    template_name = "coop/common/wishes.html"

    def get_queryset(self) -> Any:
        self.answered = self.request.GET.get("answered") == "1"
        self.archived = False
        rows = selectors.answered_wishes_of if self.answered else selectors.open_wishes_of
        return rows(organisation=self.request.organisation)

    def get_table_kwargs(self) -> dict[str, Any]:
        return super().get_table_kwargs() | ({} if self.answered else {"exclude": ("state",)})

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        waiting = selectors.open_wishes_of(organisation=self.request.organisation).count()
        first = selectors.open_wishes_of(organisation=self.request.organisation).first() if waiting else None
        return context | {"answered": self.answered, "answer": wishes_answer(waiting), "first": first}


def _wish(request: HttpRequest, pk: int) -> CommonWish:
    return get_object_or_404(selectors.wishes_of(organisation=request.organisation), pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def wish(request: HttpRequest, pk: int) -> HttpResponse:
    """One request; posting declines it with a reason."""
    found = _wish(request, pk)
    if request.method == "POST" and found.state != State.OPEN:
        messages.error(request, answered_words(found))
        return redirect("coop:common-wish", pk)
    form = DeclineForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.decline_wish(**actor_kwargs(request), wish=found, **data),
        message=gettext("Declined: {}. The pieces are free again."),
        redirect_to="coop:common-wishes",
    )
    context = {
        "wish": found,
        "what": lot_item_words(found.offer.lot, request.organisation),
        "answer": wish_answer(found),
        "facts": wish_facts(found),
        "form": form if found.state == State.OPEN else None,
    }
    return answer or render(request, "coop/common/wish.html", context)


@require_POST
def give(request: HttpRequest, pk: int) -> HttpResponse:
    """The pieces leave the stock, and the member owes for them."""
    found = _wish(request, pk)
    return run_action(
        request,
        lambda: services.give_wish(**actor_kwargs(request), wish=found),
        message=gettext("Given: %(found)s. It stands in the member’s account.") % {"found": found},
        redirect_to="coop:common-wishes",
        refused_redirect_to=reverse("coop:common-wish", args=[pk]),
    )
