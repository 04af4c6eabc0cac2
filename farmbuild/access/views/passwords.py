"""Pages that set a password; each ends what was signed in with the one before."""

from __future__ import annotations

from django.contrib.auth.forms import SetPasswordForm
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from farmbuild.access import half
from farmbuild.access.account import password_changed
from farmbuild.orgs.views import organisation


class ChangePassword(organisation.ChangePassword):
    def form_valid(self, form: BaseForm) -> HttpResponse:
        answer = super().form_valid(form)
        password_changed(user=self.request.user, own=self.request.session.session_key)
        return answer


class SetPassword(organisation.SetPassword):
    """Whoever has a second step gives its code too: a link for a password is one of the two."""

    post_reset_login = False

    def form_valid(self, form: SetPasswordForm) -> HttpResponse:
        answer = super().form_valid(form)
        password_changed(user=form.user)
        return _sign_in(self.request, form, to=self.get_success_url()) or answer


def _sign_in(request: HttpRequest, form: SetPasswordForm, *, to: str) -> HttpResponse | None:
    if half.needs_code(request, form.user, to=to):
        return redirect("sign-in-code")
    half.sign_in(request, form.user)
    return None
