"""Pages of benders."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig

from farmbuild.common.pages import ROWS, OrgList, stored
from farmbuild.hoops.benders import services
from farmbuild.hoops.benders.forms import BenderForm, MakesForm
from farmbuild.hoops.benders.makes import what_it_makes
from farmbuild.hoops.benders.selectors import (
    accepted_trials_of,
    any_bender_of,
    batches_on,
    recipes_on,
)
from farmbuild.hoops.benders.sheets import bender_sheet, makes_initial
from farmbuild.hoops.benders.tables import BenderTable, MeasuredTable, RecipesOnTable
from farmbuild.hoops.models import Bender

_NEWEST_BATCHES = 10


def _bender(request: HttpRequest, slug: str) -> Bender:
    rows = any_bender_of(organisation=request.organisation).select_related("organisation").prefetch_related("tubes")
    return get_object_or_404(rows, slug=slug)


class BenderList(OrgList):
    table_class = BenderTable
    template_name = "hoops/benders/list.html"
    rows = any_bender_of
    archives = True


def create(request: HttpRequest) -> HttpResponse:
    form = BenderForm(request.POST or None, organisation=request.organisation)
    answer = stored(
        request,
        form,
        lambda data: services.create_bender(organisation=request.organisation, user=request.user, data=data),
        says="{} is on the list.",
    )
    return answer or render(request, "hoops/benders/form.html", {"form": form})


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    bender = _bender(request, slug)
    name = bender.name
    form = BenderForm(request.POST or None, instance=bender, organisation=request.organisation)
    answer = stored(
        request,
        form,
        lambda data: services.save_bender(
            organisation=request.organisation, user=request.user, bender=bender, data=data
        ),
        says="{} is saved.",
    )
    return answer or render(request, "hoops/benders/form.html", {"form": form, "bender": bender, "name": name})


def show(request: HttpRequest, slug: str) -> HttpResponse:
    bender, organisation = _bender(request, slug), request.organisation
    trials, bent = accepted_trials_of(bender=bender), recipes_on(bender=bender)
    measured = MeasuredTable(trials, organisation=organisation, rated=bender.rated_radius, prefix="trials-")
    recipes = RecipesOnTable(bent, organisation=organisation, prefix="recipes-")
    for table in (measured, recipes):
        RequestConfig(request, paginate={"per_page": ROWS}).configure(table)
    asked = request.GET if "stick_length" in request.GET else None
    form = MakesForm(
        asked,
        initial=makes_initial(bender, bent.first()),
        organisation=organisation,
        measured=bender.measured_radius is not None,
    )
    context = {
        "bender": bender,
        "sheet": bender_sheet(bender, trials),
        "measured": measured,
        "recipes": recipes,
        "batches": batches_on(bender=bender)[:_NEWEST_BATCHES],
        "form": form,
        "makes": what_it_makes(bender, form.cleaned_data) if form.is_valid() else None,
    }
    return render(request, "hoops/benders/bender.html", context)


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    bender = _bender(request, slug)
    services.archive_bender(organisation=request.organisation, user=request.user, bender=bender)
    messages.success(request, f"{bender.name} is archived. Recipes that use it keep it.")
    return redirect("hoops:benders")


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    bender = _bender(request, slug)
    services.bring_back_bender(organisation=request.organisation, user=request.user, bender=bender)
    messages.success(request, f"{bender.name} is back.")
    return redirect(bender)
