"""The page of the organisation, and the one that sets a password."""

from copy import copy

from django.contrib.auth.views import PasswordResetConfirmView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse_lazy
from django.views.decorators.http import require_http_methods

from farmbuild.common.pages import save_form
from farmbuild.orgs.forms import OrganisationForm, PasswordForm
from farmbuild.orgs.models import User
from farmbuild.orgs.services import save_organisation


@require_http_methods(["GET", "HEAD", "POST"])
def organisation(request: HttpRequest) -> HttpResponse:
    # A copy, so that a name that is refused does not stand in the top bar.
    form = OrganisationForm(
        request.POST or None, organisation=request.organisation, instance=copy(request.organisation)
    )
    answer = save_form(
        request,
        form,
        lambda data: save_organisation(organisation=request.organisation, user=request.user, data=data),
        message="{} is saved.",
        redirect_to="orgs:organisation",
    )
    return answer or render(request, "orgs/organisation.html", {"form": form})


class SetPassword(PasswordResetConfirmView):
    """Whoever has the link sets a password and is signed in. Links are made for visitors alone."""

    form_class = PasswordForm
    template_name = "set_password.html"
    success_url = reverse_lazy("home")
    post_reset_login = True
    reset_url_token = "password"

    def get_user(self, uidb64: str) -> User | None:
        user = super().get_user(uidb64)
        return user if user and user.visitor and user.is_active else None
