"""The page of the organisation, and those that set a password."""

from copy import copy

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.views import PasswordChangeView, PasswordResetConfirmView
from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from farmbuild.common.pages import save_form
from farmbuild.orgs.forms import OrganisationForm, OwnPasswordForm, PasswordForm
from farmbuild.orgs.models import User
from farmbuild.orgs.services import save_organisation
from farmbuild.orgs.throwing_away import may_throw_away, throw_away


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
        message=gettext("{} is saved."),
        redirect_to="orgs:organisation",
    )
    return answer or render(request, "orgs/organisation.html", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
def throw_season_away(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    if not may_throw_away(organisation=organisation, user=request.user):
        messages.error(request, gettext("Only an invented season can be thrown away, by its owner."))
        return redirect("orgs:organisation")
    if request.method == "POST":
        try:
            throw_away(organisation=organisation, user=request.user)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            logout(request)
            messages.success(
                request,
                gettext("The invented season of %(organisation)s is thrown away.")
                % {"organisation": organisation.name},
            )
        return redirect("home")
    return render(request, "orgs/throw_away.html")


class SetPassword(PasswordResetConfirmView):
    """Whoever has the link sets a password and is signed in."""

    form_class = PasswordForm
    template_name = "set_password.html"
    success_url = reverse_lazy("home")
    post_reset_login = True
    post_reset_login_backend = "django.contrib.auth.backends.ModelBackend"
    reset_url_token = "password"

    def get_user(self, uidb64: str) -> User | None:
        user = super().get_user(uidb64)
        return user if user and user.is_active else None


class ChangePassword(PasswordChangeView):
    """Of whoever is signed in. It ends that person's other sign-ins: their key is made of the password."""

    form_class = OwnPasswordForm
    template_name = "change_password.html"
    success_url = reverse_lazy("home")

    def form_valid(self, form: BaseForm) -> HttpResponse:
        answer = super().form_valid(form)
        messages.success(self.request, gettext("Your password is changed. Your other sign-ins are ended."))
        return answer
