"""Pages of one's own sign-in: name, second step, and where one is signed in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.access import account, log, second_step, signins
from farmbuild.access.forms import FirstCodeForm, OwnForm, SurePasswordForm
from farmbuild.access.presenters import account_facts, entry_lines, sign_in_lines
from farmbuild.access.second_step import app_address, secret_of
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import first_rows, save_form
from farmbuild.common.qr import code_svg
from farmbuild.common.speaking import said_count
from farmbuild.orgs.languages import asked_by_browser, language_of
from farmbuild.orgs.models import User

#: Lines of the log on one page.
LINES = 40


@require_GET
def show(request: HttpRequest) -> HttpResponse:
    return render(request, "access/account.html", account_facts(request.user))


@require_http_methods(["GET", "HEAD", "POST"])
def name(request: HttpRequest) -> HttpResponse:
    form = OwnForm(request.POST or None, instance=account.fresh(user=request.user))

    def save(data: dict[str, Any]) -> User:
        person = account.save_person(user=request.user, **data)
        # What is said of it is read on the page that follows.
        translation.activate(language_of(user=person, organisation=request.organisation) or asked_by_browser(request))
        return person

    answer = save_form(
        request,
        form,
        save,
        message=gettext_lazy("What is yours is saved."),
        redirect_to="access:account",
    )
    return answer or render(request, "access/name.html", {"form": form})


@never_cache
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def step_on(request: HttpRequest) -> HttpResponse:
    if second_step.is_on(user=request.user):
        return redirect("access:account")
    step = second_step.prepare(user=request.user)
    form = FirstCodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            papers = second_step.turn_on(user=request.user, code=form.cleaned_data["code"])
            # Whoever signed in elsewhere did so by the password alone.
            account.end_sign_ins(user=request.user, handle="", own=request.session.session_key)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            return _papers(request, papers)
    address = app_address(step, site=request.get_host())
    context = {
        "form": form,
        "drawing": code_svg(address, about=gettext("Square code for your code app")),
        "secret": secret_of(step),
        "app_address": address,
    }
    return render(request, "access/step_on.html", context)


def _papers(request: HttpRequest, papers: list[str]) -> HttpResponse:
    """Shown in the answer itself, once: they are kept nowhere."""
    return render(request, "access/papers.html", {"papers": papers, "site": request.get_host()})


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def step_papers(request: HttpRequest) -> HttpResponse:
    form = SurePasswordForm(request.POST or None, user=request.user)
    if not second_step.is_on(user=request.user):
        return redirect("access:account")
    if request.method == "POST" and form.is_valid():
        return _papers(request, second_step.new_papers(user=request.user))
    left = second_step.papers_left(user=request.user)
    return render(request, "access/step_papers.html", {"form": form, "left": left})


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def step_off(request: HttpRequest) -> HttpResponse:
    form = SurePasswordForm(request.POST or None, user=request.user)
    if not second_step.is_on(user=request.user):
        return redirect("access:account")
    if request.method == "POST" and form.is_valid():
        second_step.turn_off(user=request.user)
        messages.success(request, gettext("The second step is off. Your name and password are enough."))
        return redirect("access:account")
    return render(request, "access/step_off.html", {"form": form})


@require_GET
def sign_ins(request: HttpRequest) -> HttpResponse:
    rows = sign_in_lines(signins.in_use(user=request.user), own=request.session.session_key)
    return render(request, "access/sign_ins.html", {"rows": rows})


@require_POST
def end(request: HttpRequest) -> HttpResponse:
    """One, by its handle, or all others without one."""
    handle = request.POST.get("handle", "")
    ended = account.end_sign_ins(user=request.user, handle=handle, own=request.session.session_key)
    if ended:
        messages.success(request, gettext("%(ended)s ended.") % {"ended": said_count(ended, "sign-in")})
    else:
        messages.info(request, gettext("It was over already."))
    return redirect(reverse("access:sign-ins"))


@require_GET
def own_log(request: HttpRequest) -> HttpResponse:
    rows, more = first_rows(log.entries_of(user=request.user), LINES)
    return render(request, "access/log.html", {"lines": entry_lines(rows), "more": more})
