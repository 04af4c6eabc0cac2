"""The rules of sharing, for whoever gives benders out."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext

from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.crew.bookings.forms import SharingRulesForm
from farmbuild.crew.bookings.having import sharing_rules_of
from farmbuild.crew.bookings.sharing_rules import effects_of, save_sharing_rules
from farmbuild.orgs.clock import today_of


def rules(request: HttpRequest) -> HttpResponse:
    current = sharing_rules_of(organisation=request.organisation)
    effects = effects_of(current, today_of(organisation=request.organisation))
    form = SharingRulesForm(request.POST or None, instance=current, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: save_sharing_rules(**actor_kwargs(request), data=data),
        message=gettext("The rules are saved. They hold from the next proposal on."),
        redirect_to="crew:sharing-rules",
    )
    return answer or render(
        request, "crew/bookings/sharing_rules.html", {"form": form, "rules": current, "effects": effects}
    )
