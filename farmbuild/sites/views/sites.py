"""Pages of sites."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, run_action, save_form
from farmbuild.orgs.clock import today_of
from farmbuild.sites import services
from farmbuild.sites.forms import CopySiteForm, SiteForm
from farmbuild.sites.models import Site
from farmbuild.sites.placing import places_sheet
from farmbuild.sites.selectors import any_site_of, house_summary, houses_on
from farmbuild.sites.tables import SiteTable
from farmbuild.sites.yard.presenters import site_yard
from farmbuild.sites.yard.standing import next_steps_of


def _site(request: HttpRequest, slug: str) -> Site:
    return get_object_or_404(any_site_of(organisation=request.organisation), slug=slug)


class SiteList(OrgList):
    table_class = SiteTable
    template_name = "sites/site_list.html"
    rows = any_site_of
    archives = True


def create(request: HttpRequest) -> HttpResponse:
    form = SiteForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.create_site(organisation=request.organisation, user=request.user, **data),
        message=gettext("{} is on the list."),
    )
    return answer or render(request, "sites/site_form.html", {"form": form})


def show(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    organisation = request.organisation
    summary = house_summary(houses_on(site=site), today=today_of(organisation=organisation))
    context = {
        "site": site,
        "yard": site_yard(site, houses_on(site=site), organisation=organisation, longest=summary["longest"]),
        "steps": [] if site.archived_at else next_steps_of(organisation=organisation)[:1],
    }
    return render(request, "sites/site.html", context)


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    name = site.name
    form = SiteForm(request.POST or None, instance=site, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_site(organisation=request.organisation, user=request.user, site=site, data=data),
        message=gettext("{} is saved."),
    )
    return answer or render(request, "sites/site_form.html", {"form": form, "site": site, "name": name})


def places(request: HttpRequest, slug: str) -> HttpResponse:
    """Where each house stands, all typed or drawn to their places on one page."""
    site = _site(request, slug)
    data = request.POST if request.method == "POST" else None
    sheet = places_sheet(site, organisation=request.organisation, number=request.GET.get("page"), data=data)
    if data is not None and sheet.ready and sheet.save(request.user):
        messages.success(request, gettext("The places on %(site)s are saved.") % {"site": site})
        return redirect(site)
    return render(request, "sites/places.html", {"site": site, "sheet": sheet, "plan": sheet.plan()})


def copy(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    form = CopySiteForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.copy_site(organisation=request.organisation, user=request.user, site=site, **data),
        message=gettext("{} is made as a copy."),
    )
    return answer or render(request, "sites/site_copy.html", {"form": form, "site": site})


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    return run_action(
        request,
        lambda: services.archive_site(organisation=request.organisation, user=request.user, site=site),
        message=gettext("%(site)s is archived, and its houses with it.") % {"site": site},
        redirect_to="sites:sites",
        refused_redirect_to=site,
    )


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    site = _site(request, slug)
    return run_action(
        request,
        lambda: services.bring_back_site(organisation=request.organisation, user=request.user, site=site),
        message=gettext("%(site)s is back.") % {"site": site},
        redirect_to=site,
    )
