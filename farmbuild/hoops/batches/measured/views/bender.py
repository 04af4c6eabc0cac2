"""The page of a bender: what it is rated for, what its trial hoops measured, and what it would make."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from farmbuild.common.pages import ROWS
from farmbuild.common.paging import paged
from farmbuild.hoops.batches.measured.presenters import bender_page, makes_initial
from farmbuild.hoops.batches.measured.selectors import accepted_trials_of, batches_on
from farmbuild.hoops.batches.measured.tables import MeasuredTable
from farmbuild.hoops.batches.measured.wear import wear_of
from farmbuild.hoops.batches.measured.wear_page import wear_page
from farmbuild.hoops.benders.forms import MakesForm
from farmbuild.hoops.benders.made_hoops import made_hoop
from farmbuild.hoops.benders.views.benders import bender_or_404
from farmbuild.hoops.recipes.selectors import recipes_on
from farmbuild.hoops.recipes.tables import RecipesOnTable

_NEWEST_BATCHES = 10


def show(request: HttpRequest, slug: str) -> HttpResponse:
    bender, organisation = bender_or_404(request, slug), request.organisation
    trials, bent = accepted_trials_of(bender=bender), recipes_on(bender=bender)
    measured = MeasuredTable(trials, organisation=organisation, rated=bender.rated_radius, prefix="trials-")
    recipes = RecipesOnTable(bent, organisation=organisation, prefix="recipes-")
    for table in (measured, recipes):
        paged(request, table, rows=ROWS)
    asked = request.GET if "stick_length" in request.GET else None
    form = MakesForm(
        asked,
        initial=makes_initial(bender, bent.first()),
        organisation=organisation,
        measured=bender.measured_radius is not None,
    )
    context = {
        "bender": bender,
        "page": bender_page(bender, trials),
        "wear": wear_page(wear_of(bender=bender)),
        "measured": measured,
        "recipes": recipes,
        "batches": batches_on(bender=bender)[:_NEWEST_BATCHES],
        "form": form,
        "made_hoop": made_hoop(bender, form.cleaned_data) if form.is_valid() else None,
    }
    return render(request, "hoops/benders/bender.html", context)
