"""The order that an address names."""

from __future__ import annotations

from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from farmbuild.buying import selectors
from farmbuild.buying.models import PurchaseOrder


def order_or_404(request: HttpRequest, number: str) -> PurchaseOrder:
    return get_object_or_404(selectors.orders_of(organisation=request.organisation), number=number)
