"""Pages of materials."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.catalogue import services
from farmbuild.catalogue.forms import MaterialForm
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.presenters import sizes_of, tube_figures
from farmbuild.catalogue.selectors import materials_listed, materials_of
from farmbuild.catalogue.tables import MaterialTable
from farmbuild.common.pages import run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.common.speaking import said_count
from farmbuild.orgs.selectors import other_units


def materials(request: HttpRequest) -> HttpResponse:
    archived = request.GET.get("archived") == "1"
    rows = materials_listed(organisation=request.organisation, archived=archived)
    table = paged(request, MaterialTable(rows, organisation=request.organisation))
    other = other_units(request.organisation)
    context = {"table": table, "count": table.paginator.count, "archived": archived, "other": other}
    return render(request, "catalogue/materials.html", context)


@require_POST
def add_starting(request: HttpRequest) -> HttpResponse:
    """Those in the organisation's own units, unless the others are asked for."""
    other = other_units(request.organisation)
    units = other.value if request.POST.get("units") == other.value else ""
    added = services.add_starting_catalogue(organisation=request.organisation, units=units)
    if added:
        messages.success(
            request,
            gettext("%(added)s materials added. Compare the sizes with what your suppliers sell.")
            % {"added": len(added)},
        )
    else:
        which = gettext(" in %(label)s") % {"label": other.label.lower()} if units else ""
        messages.info(request, gettext("You have all of the shipped materials%(which)s already.") % {"which": which})
    if filled := services.fill_shipped_notes(organisation=request.organisation):
        messages.info(
            request,
            gettext("%(filled)s now with a note of where the sizes come from.")
            % {"filled": said_count(filled, "material")},
        )
    return redirect("catalogue:materials")


def material_new(request: HttpRequest) -> HttpResponse:
    form = MaterialForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.create_material(organisation=request.organisation, user=request.user, **data),
        message=gettext("{} is on the list."),
        redirect_to="catalogue:materials",
    )
    return answer or render(request, "catalogue/material_form.html", {"form": form})


def material_sizes(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(materials_of(organisation=request.organisation), code=code)
    context = {
        "material": row,
        "sizes": sizes_of(row),
        "figures": tube_figures(row),
        "is_tube": row.kind == Material.Kind.TUBE,
    }
    return render(request, "catalogue/material.html", context)


def material(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(materials_of(organisation=request.organisation), code=code)
    name = row.name
    form = MaterialForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.change_material(
            organisation=request.organisation, user=request.user, material=row, data=data
        ),
        message=gettext("{} is saved."),
        redirect_to=reverse("catalogue:material-sizes", args=[code]),
    )
    return answer or render(request, "catalogue/material_form.html", {"form": form, "material": row, "name": name})


@require_POST
def archive(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(materials_of(organisation=request.organisation), code=code)
    return run_action(
        request,
        lambda: services.archive_material(organisation=request.organisation, user=request.user, material=row),
        message=gettext("%(row)s is archived. What has it keeps it.") % {"row": row},
        redirect_to="catalogue:materials",
    )


@require_POST
def bring_back(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(materials_of(organisation=request.organisation), code=code)
    return run_action(
        request,
        lambda: services.bring_back_material(organisation=request.organisation, user=request.user, material=row),
        message=gettext("%(row)s is back.") % {"row": row},
        redirect_to=reverse("catalogue:material-sizes", args=[code]),
    )
