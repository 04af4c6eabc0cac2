"""Which organisation: where an address says none, somebody with several chooses, and nothing typed is lost."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode, urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import Resolver404, ResolverMatch, resolve, reverse
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from farmbuild.measure import join_words
from farmbuild.orgs.addresses import address_in, address_within, prefix_of
from farmbuild.orgs.models import Membership, Organisation
from farmbuild.orgs.signals import asking_who_has


@dataclass(frozen=True)
class Choice:
    """An organisation, and where choosing it leads."""

    organisation: Organisation
    address: str
    here: bool


def lead_on(request: HttpRequest, membership: Membership | None) -> HttpResponse:
    """From an address of before to the same page in the organisation of ``membership``, or to the question which."""
    found = _who_has(request, request.resolver_match)
    if len(found) == 1:
        membership = found[0]
    elif found or membership is None:
        return redirect(f"{reverse('orgs:choose')}?{urlencode({'to': address_within(request)})}")
    return redirect(address_in(membership.organisation.slug, request))


def answer_bare_press(request: HttpRequest) -> HttpResponse:
    """A form of before goes on whole; who has several organisations is asked, with all that was typed."""
    if len(request.memberships) == 1:
        address = address_in(request.memberships[0].organisation.slug, request)
        return HttpResponseRedirect(address, preserve_request=True)
    request.organisation = request.membership = None
    typed = [(name, value) for name, values in request.POST.lists() for value in values if name != _CSRF]
    choices = _choices(request, request.memberships, address_within(request))
    context = {"choices": choices, "typed": typed, "files": _files(request)}
    return render(request, "orgs/choose_for_a_press.html", context, status=409)


_CSRF = "csrfmiddlewaretoken"
_SEVERAL = _("Everything you see and do next is of the one you choose.")
_SEVERAL_HAVE_IT = _("These have a lot of that number. Whose label is it?")


@require_http_methods(["GET", "HEAD"])
def choose(request: HttpRequest) -> HttpResponse:
    """``to``: an address of before; of the organisations that have what it names, where a room tells."""
    to = request.GET.get("to", "/")
    found = []
    with contextlib.suppress(Resolver404):
        found = _who_has(request, resolve(urlsplit(to).path, urlconf=settings.ROOT_URLCONF))
    choices = _choices(request, found or request.memberships, to if to.startswith("/") else "/")
    return render(request, "orgs/choose.html", {"choices": choices, "words": _SEVERAL_HAVE_IT if found else _SEVERAL})


def _choices(request: HttpRequest, memberships: Sequence[Membership], to: str) -> list[Choice]:
    return [
        Choice(row.organisation, f"{prefix_of(row.organisation.slug)[:-1]}{to}", row == request.membership)
        for row in memberships
    ]


def _files(request: HttpRequest) -> list[tuple[str, str, bool]]:
    """Box, names of the files that were chosen in it, and whether there were several. A browser sends them once."""
    boxes = request.FILES.lists()
    return [(box, join_words(f"“{file.name}”" for file in files), len(files) > 1) for box, files in boxes]


def _who_has(request: HttpRequest, match: ResolverMatch) -> list[Membership]:
    """Of several organisations those that have what the address names, as far as a room above tells."""
    if len(request.memberships) < 2:
        return []
    keys = [row.organisation_id for row in request.memberships]
    answers = asking_who_has.send(Membership, match=match, organisations=keys)
    having = {key for _, found in answers for key in found}
    return [row for row in request.memberships if row.organisation_id in having]
