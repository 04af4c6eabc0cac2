"""Pages of the wind: coming days by site, a forecast typed in, and the limits."""

from __future__ import annotations

from datetime import date

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext

from farmbuild.common.pages import ROWS, actor_kwargs, save_form
from farmbuild.crew.models import WindLimit
from farmbuild.crew.wind import services
from farmbuild.crew.wind.forms import ForecastForm, LimitsForm
from farmbuild.crew.wind.notes import limit_words
from farmbuild.crew.wind.selectors import limits_of, wind_days
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.sites.selectors import sites_of


def days(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    first = today_of(organisation=organisation)
    last = services.last_day(first)
    rows = wind_days(organisation=organisation, first=first, last=last)
    planned = [row for row in rows if row.notes]
    limits = limits_of(organisation=organisation)
    context = {
        # First the days on which someone means to work.
        "page": Paginator(sorted(rows, key=lambda row: not row.notes), ROWS).get_page(request.GET.get("page")),
        "planned": len(planned),
        "over": len([row for row in planned if row.over]),
        "blank": len([row for row in planned if row.forecast is None]),
        "last": last,
        "limits": [
            (label, limits.get(work), limit_words(limits[work]) if work in limits else "")
            for work, label in WindLimit.Work.choices
        ],
        "unset": [label.lower() for work, label in WindLimit.Work.choices if work not in limits],
        "zone": str(zone_of(organisation=organisation)),
    }
    return render(request, "crew/wind/days.html", context)


def _day_asked(request: HttpRequest) -> date:
    try:
        return date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return today_of(organisation=request.organisation)


def forecast(request: HttpRequest) -> HttpResponse:
    sites = sites_of(organisation=request.organisation)
    site = get_object_or_404(sites, slug=request.GET["site"]) if request.GET.get("site") else None
    initial = {"site": site, "day": _day_asked(request)}
    form = ForecastForm(request.POST or None, organisation=request.organisation, initial=initial)
    answer = save_form(
        request,
        form,
        lambda data: services.enter_forecast(**actor_kwargs(request), **data),
        message=gettext("The forecast is entered."),
        redirect_to="crew:wind",
    )
    return answer or render(request, "crew/wind/forecast_form.html", {"form": form, "no_sites": not sites.exists()})


def limits(request: HttpRequest) -> HttpResponse:
    kept = limits_of(organisation=request.organisation)
    form = LimitsForm(request.POST or None, organisation=request.organisation, limits=kept)
    answer = save_form(
        request,
        form,
        lambda data: services.set_limits(**actor_kwargs(request), unit=data["unit"], limits=form.limits),
        message=gettext("The wind limits are saved."),
        redirect_to="crew:wind",
    )
    return answer or render(request, "crew/wind/limits_form.html", {"form": form, "kept": len(kept)})
