"""Pages of stages and bills."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from farmbuild.common.pages import OrgList, actor_kwargs, save_form
from farmbuild.quotes.agreed.contract import contract_of
from farmbuild.quotes.bills import selectors, services
from farmbuild.quotes.bills.csv_files import bills_csv
from farmbuild.quotes.bills.drawings import contract_bar
from farmbuild.quotes.bills.forms import USUAL, BillForm, CreditForm, PeriodForm, StagesForm, begin_bill
from farmbuild.quotes.bills.frozen import stands_of, sums_of
from farmbuild.quotes.bills.tables import BillTable
from farmbuild.quotes.models import Bill, Job
from farmbuild.workbooks.services import XLSX


def _job(request: HttpRequest, number: int) -> Job:
    return get_object_or_404(selectors.jobs_of(organisation=request.organisation), number=number)


def _page(job: Job) -> str:
    return reverse("quotes:job-bills", args=[job.number])


@require_safe
def of_job(request: HttpRequest, number: int) -> HttpResponse:
    job = _job(request, number)
    contract = contract_of(job=job)
    billing = contract and selectors.Billing(contract)
    context = {"job": job, "billing": billing, "bar": billing and contract_bar(billing)}
    return render(request, "quotes/bills/of_job.html", context)


def stages(request: HttpRequest, number: int) -> HttpResponse:
    job = _job(request, number)
    terms = selectors.terms_of(job=job)
    rows = selectors.stages_of(job=job)
    begin = {
        "rows": rows or [(str(name), percent) for name, percent in USUAL],
        "kept_percent": terms.kept_percent,
        "pay_days": terms.pay_days,
    }
    form = StagesForm(request.POST or None, initial=begin, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_stages(**actor_kwargs(request), job=job, **data),
        message=gettext("The stages are saved."),
        redirect_to=_page(job),
    )
    return answer or render(request, "quotes/bills/stages.html", {"job": job, "form": form})


def new(request: HttpRequest, number: int) -> HttpResponse:
    """Of a stage by its position, a change by its number, or what was kept back."""
    job = _job(request, number)
    contract = contract_of(job=job)
    if contract is None:
        raise Http404
    if not request.GET:
        # Which stage or change is chosen there.
        return redirect(_page(job))
    billing = selectors.Billing(contract)
    asked, row = _asked(request, billing)
    amount = row.amount if row else None
    asks_amount = "stage" in asked and not billing.is_last(asked["stage"])
    form = BillForm(
        request.POST or None,
        initial=begin_bill(amount),
        organisation=request.organisation,
        asks_amount=asks_amount,
    )
    make = {"stage": services.bill_stage, "change": services.bill_change}.get(next(iter(asked), ""), services.bill_kept)
    answer = save_form(
        request,
        form,
        lambda data: make(**actor_kwargs(request), job=job, **asked, **data),
        message=gettext("{} is made. It stays as it is."),
        redirect_to=_page(job),
    )
    context = {"job": job, "billing": billing, "form": form, "what": row, "amount": amount, "asked": asked}
    return answer or render(request, "quotes/bills/new.html", context)


def _asked(request: HttpRequest, billing: selectors.Billing) -> tuple[dict[str, Any], Any]:
    """Which stage or change, and its row; 404 for one that is not there."""
    if "kept" in request.GET:
        return {}, None
    for row in billing.stages:
        if str(row.stage.position) == request.GET.get("stage"):
            return {"stage": row.stage}, row
    for row in billing.changes:
        if str(row.change.number) == request.GET.get("change"):
            return {"change": row.change}, row
    raise Http404


def _bill(request: HttpRequest, number: int) -> Bill:
    return get_object_or_404(selectors.bills_of(organisation=request.organisation), number=number)


@require_safe
def show(request: HttpRequest, number: int) -> HttpResponse:
    bill = _bill(request, number)
    context = {
        "bill": bill,
        "counts": selectors.counts(bill),
        "parts": selectors.parts_of(bill),
        "names": bill.shown["parts"],
        "sums": sums_of(bill.shown),
        "stands": stands_of(bill.shown),
    }
    return render(request, "quotes/bills/bill.html", context)


@require_safe
def pdf(request: HttpRequest, number: int) -> HttpResponse:
    bill = _bill(request, number)
    return _file(bytes(bill.pdf), "application/pdf", f"{bill.reference}.pdf")


@require_safe
def workbook(request: HttpRequest, number: int) -> HttpResponse:
    bill = _bill(request, number)
    return _file(bytes(bill.workbook), XLSX, f"{bill.reference}.xlsx")


def _file(data: bytes, kind: str, name: str) -> HttpResponse:
    return HttpResponse(
        data, content_type=kind, headers={"Content-Disposition": content_disposition_header(True, name)}
    )


def back(request: HttpRequest, number: int) -> HttpResponse:
    bill = _bill(request, number)
    if not selectors.counts(bill):
        return redirect("quotes:bill", bill.number)
    form = CreditForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.take_back(**actor_kwargs(request), bill=bill, **data),
        message=gettext("{} takes it back."),
        redirect_to=_page(bill.job),
    )
    return answer or render(request, "quotes/bills/back.html", {"bill": bill, "form": form})


class BillList(OrgList):
    table_class = BillTable
    template_name = "quotes/bills/list.html"

    def get_queryset(self):
        self.form = PeriodForm(self.request.GET, organisation=self.request.organisation)
        self.asked, self.archived = self.form.narrow(), False
        return selectors.bills_between(organisation=self.request.organisation, **self.asked)

    def get_context_data(self, **kwargs):
        context = super().get_context_data(**kwargs)
        return context | {
            "filter_form": self.form,
            "is_filtered": bool(self.asked),
            "sums": selectors.sums_of(self.object_list),
            "query": self.request.GET.urlencode(),
        }


@require_safe
def csv_file(request: HttpRequest) -> HttpResponse:
    asked = PeriodForm(request.GET, organisation=request.organisation).narrow()
    rows = selectors.bills_between(organisation=request.organisation, **asked)
    return _file(bills_csv(reversed(rows)), "text/csv; charset=utf-8", "bills.csv")
