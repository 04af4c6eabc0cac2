"""Bending sheets, as a page to print and as a PDF."""

from __future__ import annotations

from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day
from farmbuild.hoops.batches.bending_sheet import BendingSheet, batch_bending_sheet, recipe_bending_sheet
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.pdf import sheet_pdf
from farmbuild.hoops.batches.selectors import batches_of
from farmbuild.hoops.recipes.bridge import recipe_problems
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.selectors import any_recipe_of
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.languages import as_shared


def _batch(request: HttpRequest, number: int) -> HoopBatch:
    return get_object_or_404(batches_of(organisation=request.organisation), number=number)


def _recipe(request: HttpRequest, slug: str) -> Recipe:
    recipe = get_object_or_404(any_recipe_of(organisation=request.organisation), slug=slug)
    if recipe_problems(recipe):
        raise Http404(gettext("This recipe makes no hoop."))
    return recipe


def _pdf(request: HttpRequest, sheet_of: Callable[[], BendingSheet], name: str) -> HttpResponse:
    """Several people read it at the bender, so it is in the language and units of the organisation."""
    organisation = request.organisation
    with as_shared(organisation):
        sheet = sheet_of()
        words = gettext("Printed %(now)s by %(name)s.")
        told = {"now": day(today_of(organisation=organisation)), "name": request.user.display_name}
        made = sheet_pdf(sheet, foot=f"{sheet.farm}. {words % told}")
    answer = HttpResponse(made, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


def batch_sheet(request: HttpRequest, number: int) -> HttpResponse:
    batch = _batch(request, number)
    context = {
        "sheet": batch_bending_sheet(batch),
        "batch": batch,
        "pdf": reverse("hoops:batch-sheet-pdf", args=[batch.number]),
        "back": batch,
    }
    return render(request, "hoops/batches/sheet.html", context)


def batch_pdf(request: HttpRequest, number: int) -> HttpResponse:
    batch = _batch(request, number)
    return _pdf(request, lambda: batch_bending_sheet(batch), f"bending-sheet-batch-{batch.number}")


def recipe_sheet(request: HttpRequest, slug: str) -> HttpResponse:
    recipe = _recipe(request, slug)
    context = {
        "sheet": recipe_bending_sheet(recipe),
        "pdf": reverse("hoops:recipe-sheet-pdf", args=[recipe.slug]),
        "back": recipe,
    }
    return render(request, "hoops/batches/sheet.html", context)


def recipe_pdf(request: HttpRequest, slug: str) -> HttpResponse:
    recipe = _recipe(request, slug)
    return _pdf(request, lambda: recipe_bending_sheet(recipe), f"bending-sheet-{recipe.slug}")
