"""Pages of the cooperative: what of its stock is open to members, opened and ended."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from farmbuild.common.pages import OrgList, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.common import selectors, services
from farmbuild.coop.common.drawings import offers_drawn
from farmbuild.coop.common.forms import OpenItemForm, OpenLotForm
from farmbuild.coop.common.opening import open_pieces
from farmbuild.coop.common.tables import OfferTable, WishTable
from farmbuild.coop.common.words import list_answer, lot_item_words, names_words, offer_answer, opened_words
from farmbuild.coop.models import CommonOffer
from farmbuild.stock.selectors import own_lots_on_hand


class CommonList(OrgList):
    """What is open, or with ``?ended=1`` what has ended."""

    table_class = OfferTable
    template_name = "coop/common/list.html"

    def get_queryset(self) -> Any:
        self.ended = self.request.GET.get("ended") == "1"
        self.archived = False
        rows = selectors.ended_offers_of if self.ended else selectors.offers_of
        return rows(organisation=self.request.organisation)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        organisation = self.request.organisation
        offers, left = selectors.free_pieces_of(organisation=organisation)
        waiting = selectors.open_wishes_of(organisation=organisation).count()
        shown = [row.record for row in context["table"].paginated_rows]
        return context | {
            "ended": self.ended,
            "waiting": waiting,
            "answer": list_answer(offers=offers, left=left, wishes=waiting),
            "drawing": "" if self.ended else offers_drawn(shown, organisation),
        }


def _offer(request: HttpRequest, pk: int) -> CommonOffer:
    return get_object_or_404(selectors.every_offer_of(organisation=request.organisation), pk=pk)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    organisation = request.organisation
    offer = _offer(request, pk)
    table = WishTable(selectors.wishes_for(offer=offer), organisation=organisation, exclude=("item", "lot"))
    paged(request, table)
    context = {
        "offer": offer,
        "what": lot_item_words(offer.lot, organisation),
        "answer": offer_answer(offer),
        "whom": names_words(offer),
        "drawing": offers_drawn([offer], organisation),
        "table": table,
        "count": table.paginator.count,
    }
    return render(request, "coop/common/offer.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def open_one(request: HttpRequest, pk: int) -> HttpResponse:
    """Pieces of one lot, from its page."""
    organisation = request.organisation
    lot = get_object_or_404(own_lots_on_hand(organisation=organisation), pk=pk)
    if there := selectors.open_offer_of(lot=lot):
        messages.info(request, gettext("Lot %(lot)s is open to members already.") % {"lot": lot})
        return redirect(there)
    form = OpenLotForm(request.POST or None, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.open_lot(**actor_kwargs(request), lot=lot, **data),
        message=gettext("Open to members now: {}."),
        redirect_to="coop:common",
    )
    context = {"form": form, "lot": lot, "what": lot_item_words(lot, organisation)}
    return answer or render(request, "coop/common/open_lot.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def open_by_item(request: HttpRequest) -> HttpResponse:
    """Pieces of one material and length at once; the answer names the lots that they are taken from."""
    form = OpenItemForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: opened_words(open_pieces(**actor_kwargs(request), **data)),
        message="{}",
        redirect_to="coop:common",
    )
    return answer or render(request, "coop/common/open.html", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
def end(request: HttpRequest, pk: int) -> HttpResponse:
    """Asks first; requests that wait stay until they are answered."""
    offer = _offer(request, pk)
    at = reverse("coop:common-offer", args=[pk])
    if request.method == "POST":
        return run_action(
            request,
            lambda: services.end_offer(**actor_kwargs(request), offer=offer),
            message=gettext("Lot %(lot)s is open to members no more.") % {"lot": offer.lot},
            redirect_to="coop:common",
            refused_redirect_to=at,
        )
    if offer.ended_at:
        messages.info(request, gettext("This has ended already."))
        return redirect(at)
    context = {"offer": offer, "what": lot_item_words(offer.lot, request.organisation)}
    return render(request, "coop/common/end.html", context)
