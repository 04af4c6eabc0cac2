"""Signing in with a name and a password, and with a code where one is asked for."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from farmbuild.access import half, log, second_step
from farmbuild.access.forms import CodeForm
from farmbuild.access.middleware import TIME_UP
from farmbuild.orgs.views.first_account import SignIn as SignInByPassword


class SignIn(SignInByPassword):
    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        if half.needs_code(self.request, form.get_user(), to=self.get_success_url()):
            return redirect("sign-in-code")
        return super().form_valid(form)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        time_up = self.request.session.pop(TIME_UP, False)
        return super().get_context_data(**kwargs) | {"time_up": time_up}


@login_not_required
@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def code(request: HttpRequest) -> HttpResponse:
    user = half.waiting(request)
    if user is None:
        return redirect("sign-in")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if not (refused := second_step.take_code(user=user, code=form.cleaned_data["code"])):
            return redirect(half.finish(request, user))
        log.write(log.What.WRONG_CODE, user=user, request=request)
        form.add_error("code", refused)
    return render(request, "access/sign_in_code.html", {"form": form})
