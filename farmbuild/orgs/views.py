"""The one page of the organisation."""

from copy import copy

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from farmbuild.common.pages import stored
from farmbuild.orgs.forms import OrganisationForm
from farmbuild.orgs.services import save_organisation


@require_http_methods(["GET", "HEAD", "POST"])
def organisation(request: HttpRequest) -> HttpResponse:
    # A copy, so that a name that is refused does not stand in the top bar.
    form = OrganisationForm(
        request.POST or None, organisation=request.organisation, instance=copy(request.organisation)
    )
    answer = stored(
        request,
        form,
        lambda data: save_organisation(organisation=request.organisation, user=request.user, data=data),
        says="{} is saved.",
        to="orgs:organisation",
    )
    return answer or render(request, "orgs/organisation.html", {"form": form})
