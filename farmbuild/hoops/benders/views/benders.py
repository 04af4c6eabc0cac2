"""Pages of benders."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, save_form
from farmbuild.hoops.benders import services
from farmbuild.hoops.benders.forms import BenderForm
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import any_bender_of
from farmbuild.hoops.benders.tables import BenderTable


def bender_or_404(request: HttpRequest, slug: str) -> Bender:
    return get_object_or_404(any_bender_of(organisation=request.organisation), slug=slug)


class BenderList(OrgList):
    table_class = BenderTable
    template_name = "hoops/benders/list.html"
    rows = any_bender_of
    archives = True


def create(request: HttpRequest) -> HttpResponse:
    form = BenderForm(request.POST or None, organisation=request.organisation)
    answer = (
        None
        if "look" in request.POST
        else save_form(
            request,
            form,
            lambda data: services.create_bender(organisation=request.organisation, user=request.user, data=data),
            message=gettext("{} is on the list."),
        )
    )
    return answer or render(request, "hoops/benders/form.html", {"form": form, "worked": worked_of(form)})


def worked_of(form: BenderForm) -> list[str]:
    """How the radius of what was typed comes about, where that was asked and all of it can be read."""
    return form.worked if form.is_bound and form.is_valid() else []


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    bender = bender_or_404(request, slug)
    name = bender.name
    form = BenderForm(request.POST or None, instance=bender, organisation=request.organisation)
    answer = (
        None
        if "look" in request.POST
        else save_form(
            request,
            form,
            lambda data: services.save_bender(
                organisation=request.organisation, user=request.user, bender=bender, data=data
            ),
            message=gettext("{} is saved."),
        )
    )
    context = {"form": form, "bender": bender, "name": name, "worked": worked_of(form)}
    return answer or render(request, "hoops/benders/form.html", context)


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    bender = bender_or_404(request, slug)
    services.archive_bender(organisation=request.organisation, user=request.user, bender=bender)
    messages.success(
        request, gettext("%(bender_name)s is archived. Recipes that use it keep it.") % {"bender_name": bender.name}
    )
    return redirect("hoops:benders")


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    bender = bender_or_404(request, slug)
    services.bring_back_bender(organisation=request.organisation, user=request.user, bender=bender)
    messages.success(request, gettext("%(bender_name)s is back.") % {"bender_name": bender.name})
    return redirect(bender)
