"""The page of hoops for a span."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from farmbuild.hoops.for_span.bridge import TIGHTEST_IN_DIAMETERS, USUAL_INSERTION, hoops_for_span, inputs_of
from farmbuild.hoops.for_span.forms import ForSpanForm
from farmbuild.hoops.for_span.presenters import ways_shown


@require_GET
def show(request: HttpRequest) -> HttpResponse:
    form = ForSpanForm(request.GET if "post_span" in request.GET else None, organisation=request.organisation)
    benders, sticks = inputs_of(organisation=request.organisation)
    context = {"form": form, "benders": len(benders), "sticks": len(sticks), "tightest": TIGHTEST_IN_DIAMETERS}
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        ways = hoops_for_span(
            data["post_span"],
            benders,
            sticks,
            insertion=data["insertion"] or USUAL_INSERTION,
            least_rise=form.least_rise,
            tightest=TIGHTEST_IN_DIAMETERS,
        )
        names = {stick.tube.code: stick.tube.name for stick in sticks}
        context["shown"] = ways_shown(ways, names, request.organisation.unit_system)
    return render(request, "hoops/for_span.html", context)
