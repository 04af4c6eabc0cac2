"""Everything of an organisation as one file, and a person who is erased."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import logout
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from farmbuild.access import people
from farmbuild.access.forms import SurePasswordForm
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.long_work import State
from farmbuild.common.pages import actor_kwargs
from farmbuild.moving import erasing, services
from farmbuild.moving.tasks import start_once_stored


@require_http_methods(["GET", "HEAD", "POST"])
def export(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        start_once_stored(export=services.ask_for_export(**actor_kwargs(request)))
        return redirect("moving:export")
    found = services.newest(organisation=request.organisation)
    return render(request, "moving/export.html", {"export": found})


@require_safe
def progress(request: HttpRequest) -> JsonResponse:
    found = services.newest(organisation=request.organisation)
    return JsonResponse(found.progress if found else {"state": State.FAILED, "done": 0, "total": 0, "note": ""})


@require_safe
def download(request: HttpRequest) -> HttpResponse | StreamingHttpResponse:
    found = services.newest(organisation=request.organisation)
    if found is None or found.state != State.READY:
        messages.error(request, gettext("There is no export to download, or its two days are over. Write a new one."))
        return redirect("moving:export")
    answer = StreamingHttpResponse(services.pieces_of(export=found), content_type="application/zip")
    answer.headers["Content-Length"] = str(found.size)
    name = f"{request.organisation.slug}-{found.ready_at:%Y-%m-%d}.zip"
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    answer.headers["Cache-Control"] = "no-store"
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
def erase(request: HttpRequest, pk: int) -> HttpResponse:
    """Of a person of the organisation, by its owner."""
    person = get_object_or_404(people.people_of(organisation=request.organisation), pk=pk)
    name = person.user.display_name
    if request.method == "POST":
        try:
            whole = erasing.erase_person(**actor_kwargs(request), person=person)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
            return redirect("access:person", pk=pk)
        left = gettext(
            "%(name)s is out. They belong elsewhere too and erase themselves on the page of their sign-in."
        ) % {"name": name}
        messages.success(
            request, gettext("They are erased. What they did stays with “Former member”.") if whole else left
        )
        return redirect("access:people")
    facts = {"person": person, "elsewhere": erasing.is_elsewhere(person), "why_not": erasing.why_not(person.user)}
    return render(request, "moving/erase.html", facts)


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def erase_own(request: HttpRequest) -> HttpResponse:
    form = SurePasswordForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            erasing.erase_self(user=request.user)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            logout(request)
            messages.success(request, gettext("You are erased. What you did stays with “Former member”."))
            return redirect("sign-in")
    return render(request, "moving/erase_own.html", {"form": form, "why_not": erasing.why_not(request.user)})
