"""Sign-ins of a member, as staff see them."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from farmbuild.common.pages import actor_kwargs, run_action, save_form
from farmbuild.crew.bookings import signins
from farmbuild.crew.bookings.forms import SignInForm
from farmbuild.crew.bookings.selectors import any_member_of
from farmbuild.crew.models import MemberSignIn
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.orgs.password_links import DAYS


def new(request: HttpRequest, slug: str) -> HttpResponse:
    member = get_object_or_404(any_member_of(organisation=request.organisation), slug=slug)
    form = SignInForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: signins.invite_member(**actor_kwargs(request), member=member, data=data),
        message=gettext("Made. Hand over the link below."),
    )
    return answer or render(request, "crew/bookings/sign_in_form.html", {"form": form, "member": member})


def _sign_in(request: HttpRequest, slug: str, pk: int) -> MemberSignIn:
    return get_object_or_404(signins.sign_ins_of(organisation=request.organisation), member__slug=slug, pk=pk)


@require_GET
def show(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """With the link while it is not used. It is worked out each time, and kept nowhere."""
    row = _sign_in(request, slug, pk)
    path = signins.link_of(row)
    context = {
        "sign_in": row,
        "name": row.user.display_name,
        "member": row.member,
        "address": request.build_absolute_uri(path) if path else "",
        "days": DAYS,
        "page": request.build_absolute_uri(reverse_outside("sign-in")),
    }
    response = render(request, "crew/bookings/sign_in.html", context)
    response["Cache-Control"] = "private, no-store"
    return response


@require_POST
def renew(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    row = _sign_in(request, slug, pk)
    return run_action(
        request,
        lambda: signins.reopen_sign_in(**actor_kwargs(request), sign_in=row),
        message=gettext("There is a new link. The password and links before it work no more."),
        redirect_to=row.get_absolute_url(),
    )


@require_POST
def shut(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    row = _sign_in(request, slug, pk)
    return run_action(
        request,
        lambda: signins.close_sign_in(**actor_kwargs(request), sign_in=row),
        message=gettext("Closed. %(display_name)s cannot sign in any more.") % {"display_name": row.user.display_name},
        redirect_to=row.get_absolute_url(),
    )
