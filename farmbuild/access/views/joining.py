"""Pages on which an invitation is taken, by somebody new or by somebody signed in."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods

from farmbuild.access import half, invitations
from farmbuild.access.forms import InvitationCodeForm, JoinForm
from farmbuild.access.models import Invitation
from farmbuild.access.presenters import invitation_words
from farmbuild.common.form_parts import add_service_errors

#: In the session, between the link and the form: the digest of the link, which lets nobody in elsewhere.
_KEPT = "invitation"


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def by_code(request: HttpRequest) -> HttpResponse:
    form = InvitationCodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            found = invitations.by_code(form.cleaned_data["code"], request=request)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            if found:
                return _on(request, found)
            form.add_error("code", gettext("There is no such invitation. Compare each sign with the card."))
    return render(request, "access/join_code.html", {"form": form})


@login_not_required
@never_cache
@require_GET
def by_link(request: HttpRequest, token: str) -> HttpResponse:
    """On to an address without the token, which no other page and no history then has."""
    found = invitations.by_link(token)
    return _on(request, found) if found else render(request, "access/join_not.html", status=404)


def _on(request: HttpRequest, invitation: Invitation) -> HttpResponse:
    request.session[_KEPT] = invitation.digest
    return redirect("access:join")


@login_not_required
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest) -> HttpResponse:
    digest = request.session.get(_KEPT, "")
    row = invitations.by_key(digest) if digest else None
    if row is None:
        return redirect("access:join-code")
    context = {"invitation": row, **invitation_words(row)}
    if context["why_not"]:
        return render(request, "access/join_not.html", context)
    if request.user.is_authenticated:
        return _join_signed_in(request, digest, context)
    form = JoinForm(request.POST or None, initial={"name": row.name})
    if request.method == "POST" and form.is_valid():
        try:
            person = invitations.take_as_new(digest=digest, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            del request.session[_KEPT]
            half.sign_in(request, person.user)
            messages.success(
                request,
                gettext("You belong to %(organisation)s now. Sign in as %(username)s.")
                % {"organisation": row.organisation, "username": person.user.username},
            )
            return redirect("home")
    return render(request, "access/join.html", context | {"form": form})


def _join_signed_in(request: HttpRequest, digest: str, context: dict[str, object]) -> HttpResponse:
    refused: list[str] = []
    if request.method == "POST":
        try:
            person = invitations.take_as(user=request.user, digest=digest)
        except ValidationError as error:
            refused = error.messages
        else:
            del request.session[_KEPT]
            messages.success(
                request, gettext("You belong to %(organisation)s now.") % {"organisation": person.organisation}
            )
            return redirect("home")
    return render(request, "access/join_signed_in.html", context | {"refused": refused})
