"""The order that an address names."""

from __future__ import annotations

from django.http import Http404, HttpRequest
from django.utils.translation import gettext

from farmbuild.buying import selectors
from farmbuild.buying.models import PurchaseOrder


def order_or_404(request: HttpRequest, number: str) -> PurchaseOrder:
    order = selectors.order_numbered(organisation=request.organisation, number=number)
    if order is None:
        raise Http404(gettext("No order has this number."))
    return order
