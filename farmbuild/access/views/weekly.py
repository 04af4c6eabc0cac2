"""The week by e-mail: which organisations' one wants, and the page behind the link that ends one."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from farmbuild.access import mail, weekly
from farmbuild.access.forms import WeeklyForm
from farmbuild.common.pages import save_form


@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    wanted = weekly.wanted_by(user=request.user)
    form = WeeklyForm(request.POST or None, user=request.user, initial={"organisations": sorted(wanted)})
    answer = save_form(
        request,
        form,
        lambda data: weekly.save_wanted(user=request.user, **data),
        message=gettext("Your choice is saved."),
        redirect_to="access:account",
    )
    return answer or render(request, "access/weekly.html", {"form": form, "by_mail": mail.is_set_up()})


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def end(request: HttpRequest, token: str) -> HttpResponse:
    """Programs that look through e-mail open its links, so that opening alone ends nothing."""
    sheet = weekly.by_token(token)
    if sheet is not None and request.method == "POST":
        weekly.end(sheet=sheet)
    context = {"sheet": sheet, "ended": request.method == "POST"}
    return render(request, "access/weekly_end.html", context)
