"""The page of hoops for a span."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from farmbuild.hoops.for_span.bridge import (
    TIGHTEST_IN_DIAMETERS,
    USUAL_INSERTION,
    hoops_for_span,
    hoops_wanted,
    inputs_of,
    on_any_radius,
)
from farmbuild.hoops.for_span.forms import ForSpanForm
from farmbuild.hoops.for_span.presenters import ways_shown


@require_GET
def show(request: HttpRequest) -> HttpResponse:
    form = ForSpanForm(request.GET if "post_span" in request.GET else None, organisation=request.organisation)
    benders, sticks = inputs_of(organisation=request.organisation)
    context = {"form": form, "benders": len(benders), "sticks": len(sticks), "tightest": TIGHTEST_IN_DIAMETERS}
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        span = data["post_span"]
        asked = {
            "insertion": data["insertion"] or USUAL_INSERTION,
            "least_rise": form.least_rise,
            "tightest": TIGHTEST_IN_DIAMETERS,
        }
        context["shown"] = ways_shown(
            hoops_for_span(span, benders, sticks, **asked),
            {stick.tube.code: stick.tube.name for stick in sticks},
            request.organisation.unit_system,
            ideal=on_any_radius(span, sticks, **asked),
            wanted=hoops_wanted(organisation=request.organisation, post_span=span),
        )
    return render(request, "hoops/for_span.html", context)
