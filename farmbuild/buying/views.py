"""The list of orders, one order, and its workbook."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET
from django_tables2 import RequestConfig, SingleTableView

from farmbuild.buying import selectors
from farmbuild.buying.files import order_file
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.tables import OrderLineTable, OrderTable
from farmbuild.workbooks.services import XLSX

LINES_A_PAGE = 100


def order_or_404(request: HttpRequest, number: str) -> PurchaseOrder:
    return get_object_or_404(selectors.orders_of(organisation=request.organisation), number=number)


class OrderList(SingleTableView):
    table_class = OrderTable
    template_name = "buying/list.html"
    table_pagination = {"per_page": 25}

    def get_queryset(self) -> QuerySet[PurchaseOrder]:
        return selectors.orders_of(organisation=self.request.organisation)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        first = selectors.first_to_send(organisation=self.request.organisation, today=timezone.localdate())
        return super().get_context_data(first=first, **kwargs)


@require_GET
def show(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    lateness = selectors.lateness_of(order=order)
    table = OrderLineTable(selectors.lines_of(order=order), exclude=() if lateness["lines"] else ("late_days",))
    RequestConfig(request, paginate={"per_page": LINES_A_PAGE}).configure(table)
    context = {
        "order": order,
        "table": table,
        "lateness": lateness,
        "overdue": order.order_by < timezone.localdate(),
    }
    return render(request, "buying/order.html", context)


@require_GET
def workbook(request: HttpRequest, number: str) -> HttpResponse:
    file = order_file(order=order_or_404(request, number))
    headers = {"Content-Disposition": content_disposition_header(True, file.name)}
    return HttpResponse(file.data, content_type=XLSX, headers=headers)
