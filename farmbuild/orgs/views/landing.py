"""The first page after signing in."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from farmbuild.orgs.landing import landing_of


def home(request: HttpRequest) -> HttpResponse:
    return redirect(landing_of(request.acts))
