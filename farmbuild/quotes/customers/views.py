"""Pages of customers."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, actor_kwargs, run_action, save_form
from farmbuild.quotes.customers import services
from farmbuild.quotes.customers.forms import CustomerForm
from farmbuild.quotes.customers.selectors import any_customer_of, jobs_for
from farmbuild.quotes.customers.tables import CustomerTable
from farmbuild.quotes.models import Customer


class CustomerList(OrgList):
    table_class = CustomerTable
    template_name = "quotes/customers.html"
    rows = any_customer_of
    archives = True


def _customer(request: HttpRequest, slug: str) -> Customer:
    return get_object_or_404(any_customer_of(organisation=request.organisation), slug=slug)


def customer(request: HttpRequest, slug: str | None = None) -> HttpResponse:
    """A new one, or one to look at and change."""
    row = _customer(request, slug) if slug else None
    name = row.name if row else ""
    form = CustomerForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_customer(**actor_kwargs(request), data=data, customer=row),
        message=gettext("{} is saved."),
    )
    jobs = jobs_for(customer=row) if row else ()
    context = {"form": form, "customer": row, "name": name, "jobs": jobs}
    return answer or render(request, "quotes/customer.html", context)


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    row = _customer(request, slug)
    act = services.bring_back_customer if row.archived_at else services.archive_customer
    return run_action(
        request,
        lambda: act(**actor_kwargs(request), customer=row),
        message=gettext("%(row)s is back.") % {"row": row}
        if row.archived_at
        else gettext("%(row)s is archived.") % {"row": row},
        redirect_to="quotes:customers",
        refused_redirect_to=reverse("quotes:customer", args=[slug]),
    )
