"""Lets a request on to its page, or says who may."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext

from farmbuild.measure import show_amounts
from farmbuild.orgs.acts import Act, NotAllowed, refusal
from farmbuild.orgs.gates import FREE, GATES
from farmbuild.orgs.landing import landing_of


def check_gate(request: HttpRequest) -> None:
    """Once ``request.organisation`` and ``request.acts`` are set. Raises NotAllowed where no act of them is enough."""
    match = request.resolver_match
    if match.namespace == "admin":
        # It lets in whoever keeps the server, by itself.
        return
    show_amounts(request.organisation is None or Act.COSTS in request.acts)
    if request.organisation is None or match.view_name in FREE:
        return
    gate = GATES.get(match.view_name)
    if gate is None:
        raise PermissionDenied(gettext("Nobody has said yet who may open this page."))
    if act := gate.missing(request.acts, request.method):
        raise NotAllowed(refusal(organisation=request.organisation, act=act), act)


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """What is not allowed, in the form in which it was asked for: a page with a way back, or words for a script.

    A press that a phone kept gets the status of one that was refused for good, and its words, not those of a sign-in
    that ran out.
    """
    answer = _refused(request, exception)
    # Whoever logs what is refused goes by it; a status may be of something else.
    answer.refused = True
    return answer


def _refused(request: HttpRequest, exception: Exception | None) -> HttpResponse:
    words = str(exception or "") or gettext("Your sign-in does not reach this page.")
    if not request.accepts("text/html"):
        said = {"key": request.POST.get("key", ""), "kept": False, "problem": words, "fields": {}}
        return JsonResponse(said, status=422 if isinstance(exception, NotAllowed) and request.method == "POST" else 403)
    context = {
        "words": words,
        "asked": isinstance(exception, NotAllowed),
        "landing": landing_of(getattr(request, "acts", frozenset[Act]())),
    }
    return render(request, "403.html", context, status=403)
