"""Pages of sites."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST
from django_tables2 import SingleTableView

from farmbuild.sites import services
from farmbuild.sites.forms import CopySiteForm, SiteForm
from farmbuild.sites.models import Site
from farmbuild.sites.selectors import any_site_of, houses_on
from farmbuild.sites.site_plan import MOST_DRAWN, site_plan
from farmbuild.sites.tables import SiteTable


def _site(request: HttpRequest, slug: str) -> Site:
    return get_object_or_404(any_site_of(organisation=request.organisation), slug=slug)


class SiteList(SingleTableView):
    table_class = SiteTable
    template_name = "sites/site_list.html"
    paginate_by = 25

    def get_queryset(self):
        rows = any_site_of(organisation=self.request.organisation)
        self.archived = self.request.GET.get("archived") == "1"
        return rows.exclude(archived_at=None) if self.archived else rows.filter(archived_at=None)

    def get_table_kwargs(self):
        return {"organisation": self.request.organisation}

    def get_context_data(self, **kwargs):
        return super().get_context_data(**kwargs) | {"archived": self.archived}


def create(request: HttpRequest) -> HttpResponse:
    form = SiteForm(request.POST or None, organisation=request.organisation)
    if form.is_valid():
        try:
            site = services.create_site(organisation=request.organisation, user=request.user, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{site.name} is on the list.")
            return redirect(site)
    return render(request, "sites/site_form.html", {"form": form})


def show(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    houses = list(houses_on(site=site)[: MOST_DRAWN + 1])
    context = {
        "site": site,
        "houses": houses,
        "plan": site_plan(site, houses[:MOST_DRAWN], organisation=request.organisation),
        "all_drawn": len(houses) <= MOST_DRAWN,
        "most_drawn": MOST_DRAWN,
    }
    return render(request, "sites/site.html", context)


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    name = site.name
    form = SiteForm(request.POST or None, instance=site, organisation=request.organisation)
    if form.is_valid():
        try:
            site = services.save_site(
                organisation=request.organisation, user=request.user, site=site, data=form.cleaned_data
            )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{site.name} is saved.")
            return redirect(site)
    return render(request, "sites/site_form.html", {"form": form, "site": site, "name": name})


def copy(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    form = CopySiteForm(request.POST or None, organisation=request.organisation)
    if form.is_valid():
        try:
            made = services.copy_site(
                organisation=request.organisation, user=request.user, site=site, **form.cleaned_data
            )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{made.name} is a copy of {site.name}.")
            return redirect(made)
    return render(request, "sites/site_copy.html", {"form": form, "site": site})


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    try:
        services.archive_site(organisation=request.organisation, user=request.user, site=site)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(site)
    messages.success(request, f"{site.name} is archived, and its houses with it.")
    return redirect("sites:sites")


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    try:
        services.bring_back_site(organisation=request.organisation, user=request.user, site=site)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, f"{site.name} is back.")
    return redirect(site)
