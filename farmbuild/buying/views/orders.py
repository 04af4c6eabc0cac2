"""The list of orders, one order, and its workbook."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.functional import cached_property
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from farmbuild.buying import outdated, selectors
from farmbuild.buying.drafting.by_site import moves_by_site
from farmbuild.buying.drafting.selectors import below_minimum, changes_of, joinable, silent_lines
from farmbuild.buying.files import FileChanged, order_file
from farmbuild.buying.invoices.presenters import billing_of
from farmbuild.buying.lookup import order_or_404
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.phases import phase_of_plan, phases_of_plans
from farmbuild.buying.progress import confirmed_totals, progress_of, taxes_of
from farmbuild.buying.second_person import waits_words
from farmbuild.buying.tables import OrderLineTable, OrderTable, ReceiptTable
from farmbuild.buying.to_send import weeks_to_send
from farmbuild.common.paging import PagedTables, paged
from farmbuild.measure import amounts_shown
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.clock import today_of
from farmbuild.workbooks.services import XLSX

LINES_A_PAGE = 100


State = PurchaseOrder.State


class OrderList(PagedTables):
    table_class = OrderTable
    template_name = "buying/list.html"

    def get_queryset(self) -> QuerySet[PurchaseOrder]:
        return selectors.orders_of(organisation=self.request.organisation, state=self.state)

    @property
    def state(self) -> str:
        """The state asked for; what is no state narrows nothing."""
        asked = self.request.GET.get("state", "")
        return asked if asked in State.values else ""

    @cached_property
    def outdated(self) -> dict[int, list[str]]:
        return outdated.outdated_plans(organisation=self.request.organisation)

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        with Answers(request) as answers:
            found = answers.get("orders", lambda: self._shown(answers), request.GET.urlencode())
        return render(request, self.template_name, found)

    def _shown(self, answers: Answers) -> dict[str, Any]:
        """The parts of the page."""
        self.object_list = self.get_queryset()
        context = self.get_context_data()
        del context["view"]
        parts = ("answer", "main", "shown", "beside")
        shown = {name: answers.shown(f"buying/list_{name}.html", **context) for name in parts}
        return shown | {"any_order": context["any_order"]}

    def get_table_kwargs(self) -> dict[str, Any]:
        return {"outdated": self.outdated}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        organisation = self.request.organisation
        today = today_of(organisation=organisation)
        first = selectors.first_to_send(organisation=organisation, today=today, outdated=self.outdated)
        weeks, more = ([], False) if self.state else weeks_to_send(organisation=organisation, today=today)
        context = super().get_context_data(
            weeks=weeks,
            more_to_send=more,
            first=first,
            waits=None if first else selectors.first_out_of_date(organisation=organisation, outdated=self.outdated),
            state=self.state,
            state_label=State(self.state).label if self.state else "",
            states=State.choices,
            **kwargs,
        )
        table = context["table"]
        # Asked only where the page has no row to show.
        context["any_order"] = bool(table.data) or selectors.orders_of(organisation=organisation).exists()
        plans = {row.record.plan_id for row in table.paginated_rows if row.record.plan_id}
        table.phases = phases_of_plans(organisation=organisation, plans=plans)
        return context


@require_GET
def show(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    lateness = selectors.lateness_of(order=order) if order.state == State.DRAFT else {"lines": 0}
    # All at once: the sum in the foot is of all, and what they leave empty has no column.
    lines = list(selectors.lines_of(order=order))
    table = OrderLineTable(lines, exclude=_unused(order, lines, lateness["lines"]))
    paged(request, table, rows=LINES_A_PAGE)
    context = {
        "order": order,
        "table": table,
        "changes": changes_of(order=order),
        "by_site": order.state == State.DRAFT and moves_by_site(order=order),
        "joinable": order.state == State.DRAFT and joinable(order=order).exists(),
        "minimum": below_minimum(order=order),
        "lateness": lateness,
        "silent": silent_lines(order=order) if order.state == State.DRAFT else (),
        "late_lines": selectors.late_lines_of(order=order) if lateness["lines"] else (),
        "changed": outdated.changed_houses(order=order),
        "plan_phase": phase_of_plan(order=order),
        "waits": waits_words(order=order),
        "overdue": order.order_by < today_of(organisation=request.organisation),
        "progress": progress_of(order=order),
        "confirmed": confirmed_totals(order=order) if order.sent_on else None,
        "taxes": taxes_of(order=order),
        "less_wanted": selectors.less_wanted(order=order),
        "replies": selectors.replies_taken(order=order),
        "receipts": _receipts(request, order),
        "billing": billing_of(order=order) if order.sent_on and amounts_shown() else None,
        "sent": selectors.sent_workbook_of(order=order),
    }
    return render(request, "buying/order.html", context)


def _receipts(request: HttpRequest, order: PurchaseOrder) -> ReceiptTable | None:
    rows = selectors.receipts_of(order=order) if order.sent_on else None
    return ReceiptTable(rows, request=request) if rows else None


def _unused(order: PurchaseOrder, lines: list[PurchaseOrderLine], late: int) -> list[str]:
    """Columns that say nothing about the order as it stands."""
    elsewhere = selectors.goes_elsewhere(lines)
    return [*_unused_by_state(order, lines, late), *([] if elsewhere else ["deliver_to"])]


def _unused_by_state(order: PurchaseOrder, lines: list[PurchaseOrderLine], late: int) -> list[str]:
    if order.state == State.DRAFT:
        return ["good", "to_come", "answered", *([] if late else ["late_days"])]
    if order.sent_on is None:
        return ["good", "to_come", "answered", "late_days"]
    hidden = ["late_days", "packs"]
    if not selectors.is_answered(lines):
        hidden.append("answered")
    return hidden


@require_GET
def workbook(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    if order.state == State.CANCELLED and order.sent_on is None:
        raise Http404(gettext("A cancelled draft has no spreadsheet."))
    try:
        file = order_file(order=order)
    except FileChanged as error:
        messages.error(request, str(error))
        return redirect(order)
    headers = {"Content-Disposition": content_disposition_header(True, file.name)}
    return HttpResponse(file.data, content_type=XLSX, headers=headers)
