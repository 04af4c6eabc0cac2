"""Signing in, and before anybody can: the first account."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from farmbuild.common.form_parts import add_service_errors
from farmbuild.orgs.first_account import is_open, nobody_signs_in, open_first_account
from farmbuild.orgs.forms import FirstAccountForm


class SignIn(LoginView):
    """Leads on to the set-up where nobody can sign in yet; beside an invented season it offers it."""

    template_name = "sign_in.html"
    extra_context = {"set_up_is_open": is_open}

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return redirect("orgs:set-up") if nobody_signs_in() else super().get(request, *args, **kwargs)


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def set_up(request: HttpRequest) -> HttpResponse:
    if not is_open():
        return redirect("sign-in")
    form = FirstAccountForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            user = open_first_account(**form.values())
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            login(request, user, backend="django.contrib.auth.backends.ModelBackend")
            organisation = user.memberships.get().organisation
            messages.success(
                request,
                gettext(
                    "%(name)s is set up in %(units)s and %(currency)s. Begin with the field where your houses stand."
                )
                % {
                    "name": organisation.name,
                    "units": organisation.get_unit_system_display().lower(),
                    "currency": organisation.currency,
                },
            )
            return redirect(reverse("sites:site-new"))
    return render(request, "orgs/set_up.html", {"form": form}, status=400 if form.errors else 200)
