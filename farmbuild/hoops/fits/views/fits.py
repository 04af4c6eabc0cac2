"""Pages of how a set house fits."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext

from farmbuild.common.paging import paged
from farmbuild.hoops.fits import services
from farmbuild.hoops.fits.bridge import to_know_of
from farmbuild.hoops.fits.forms import FitForm, rows_of
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.hoops.fits.presenters import fit_page
from farmbuild.hoops.fits.selectors import fits_of, fits_with_readings, is_latest, latest_fit
from farmbuild.hoops.fits.tables import FitTable, HoopTable
from farmbuild.hoops.recipes.tape import tape_to_ridge
from farmbuild.sites.bridge import HouseShape, shape_of, spec_problems
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.models import House


def _house(request: HttpRequest, slug: str) -> House:
    return house_or_404(organisation=request.organisation, slug=slug)


def _shape(house: House) -> HouseShape | None:
    """None for a house that cannot be built as it is specified."""
    return None if spec_problems(house, house.organisation.unit_system) else shape_of(house)


def _to_know(house: House, shape: HouseShape | None) -> tuple[str, ...]:
    if shape is None:
        return ()
    return to_know_of(shape, sticks=house.recipe.sticks, units=house.organisation.unit_system)


def _page(request: HttpRequest, house: House, fit: HouseFit | None, *, latest: bool) -> HttpResponse:
    organisation = request.organisation
    page = fit_page(fit, units=organisation.unit_system) if fit else None
    history = FitTable(fits_of(organisation=organisation, house=house), request=request)
    paged(request, history)
    shape = _shape(house)
    context = {
        "house": house,
        "know": _to_know(house, shape),
        "fit": fit,
        "page": page,
        "latest": latest,
        "buildable": shape is not None,
        "hoops": HoopTable(page.rows, organisation=organisation) if page else None,
        "history": history,
    }
    return render(request, "hoops/fits/fit.html", context)


def latest(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    return _page(request, house, latest_fit(organisation=request.organisation, house=house), latest=True)


def show(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """One fit; an earlier one says that it no longer counts."""
    house = _house(request, slug)
    fit = get_object_or_404(fits_with_readings(organisation=request.organisation, house=house), pk=pk)
    return _page(request, house, fit, latest=is_latest(fit=fit))


def measure(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    shape = _shape(house)
    if shape is None:
        messages.error(
            request,
            gettext("%(house)s cannot be built as it is specified, so there are no hoops to measure.")
            % {"house": house.name},
        )
        return redirect(house)
    shown, parts = rows_of(shape.hoops, first=request.GET.get("from", ""))
    last = latest_fit(organisation=request.organisation, house=house)
    form = FitForm(
        request.POST or None,
        organisation=request.organisation,
        places=shape.hoop_positions,
        shown=shown,
        post_span=shape.span,
        socket_depth=shape.socket_depth,
        fit=last,
        with_readings=request.GET.get("rows") != "empty",
    )
    if form.is_valid():
        try:
            services.save_fit(
                organisation=request.organisation,
                user=request.user,
                house=house,
                readings=form.readings,
                tolerance=form.cleaned_data["tolerance"],
                span_tolerance=form.cleaned_data["span_tolerance"],
                slope=form.slope,
            )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, gettext("The fit of %(house)s is saved.") % {"house": house.name})
            return redirect("hoops:fit-latest", house.slug)
    context = {"house": house, "shape": shape, "form": form, "last": last, "shown": shown, "parts": parts}
    context |= {
        "know": _to_know(house, shape),
        "tape": tape_to_ridge(shape.span, shape.foot_height, shape.ridge_height),
    }
    return render(request, "hoops/fits/measure.html", context)


def blank(request: HttpRequest, slug: str) -> HttpResponse:
    """A sheet to fill in by hand."""
    house = _house(request, slug)
    shape = _shape(house)
    if shape is None:
        raise Http404(gettext("The house cannot be built as it is specified."))
    rows = [{"hoop": number, "place": place} for number, place in enumerate(shape.hoop_positions, 1)]
    context = {"house": house, "shape": shape, "rows": rows, "know": _to_know(house, shape)}
    return render(request, "hoops/fits/blank.html", context)
