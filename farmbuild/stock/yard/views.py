"""The page on which a yard is written down."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext

from farmbuild.catalogue.selectors import materials_of
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.speaking import said_count
from farmbuild.stock.yard.forms import YardForm
from farmbuild.stock.yard.services import add_yard


def yard(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    form = YardForm(request.POST or None, organisation=organisation)
    right = form.is_valid() and not form.problems
    if right and form.adding and form.looked:
        try:
            lots = add_yard(
                organisation=organisation,
                user=request.user,
                place=form.cleaned_data["place_name"],
                site=form.cleaned_data["site"],
                piles=form.piles(),
                seen=form.cleaned_data["seen"].partition(" ")[2],
            )
        except ValidationError as error:
            add_service_errors(form, error, name="place_name")
        else:
            messages.success(
                request,
                gettext("%(lots)s now lie at %(place)s.")
                % {"lots": said_count(len(lots), "lot"), "place": lots[0].place},
            )
            return redirect("stock:lots")
    context = {
        "form": form,
        "rows": form.shown(),
        "costs": form.cost_boxes(),
        "materials": materials_of(organisation=organisation).exists(),
        "right": right and bool(form.rows),
    }
    return render(request, "stock/yard.html", context)
