"""A forgotten password."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from farmbuild.access import mail, passwords
from farmbuild.access.forms import ForgottenForm


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def forgotten(request: HttpRequest) -> HttpResponse:
    """What is answered is the same whoever was named."""
    form = ForgottenForm(request.POST or None) if mail.is_set_up() else None
    done = form is not None and request.method == "POST" and form.is_valid()
    if done:
        passwords.send_link(typed=form.cleaned_data["name"], request=request)
    return render(request, "access/forgotten.html", {"form": form, "done": done})
