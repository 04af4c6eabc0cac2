"""The one page of the organisation."""

from copy import copy

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from farmbuild.orgs.forms import OrganisationForm
from farmbuild.orgs.services import save_organisation


@require_http_methods(["GET", "HEAD", "POST"])
def organisation(request: HttpRequest) -> HttpResponse:
    # A copy, so that a name that is refused does not stand in the top bar.
    form = OrganisationForm(
        request.POST or None, organisation=request.organisation, instance=copy(request.organisation)
    )
    if request.method == "POST" and form.is_valid():
        saved = save_organisation(organisation=request.organisation, user=request.user, data=form.cleaned_data)
        messages.success(request, f"{saved.name} is saved.")
        return redirect("orgs:organisation")
    return render(request, "orgs/organisation.html", {"form": form})
