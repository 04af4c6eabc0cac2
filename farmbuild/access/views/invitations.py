"""Pages of invitations, for whoever may say who does what."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.access import handing, invitations, mail
from farmbuild.access.cards import Handed
from farmbuild.access.forms import InviteForm
from farmbuild.access.models import Invitation
from farmbuild.access.presenters import card_of, invitation_words
from farmbuild.access.views.people import of_people
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import actor_kwargs, run_action


@require_http_methods(["GET", "HEAD", "POST"])
@of_people
def new(request: HttpRequest) -> HttpResponse:
    form = InviteForm(request.POST or None, organisation=request.organisation, by_mail=mail.is_set_up())
    if request.method == "POST" and form.is_valid():
        try:
            handed = invitations.invite(**actor_kwargs(request), **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            return hand_over(request, handed)
    return render(request, "access/invite.html", {"form": form})


def hand_over(request: HttpRequest, handed: Handed) -> HttpResponse:
    """On to the page that shows link and card; by e-mail too where there is an address."""
    row = handed.invitation
    messages.success(request, gettext("%(row)s is invited. Hand over the link or the card.") % {"row": row.name})
    if row.email and mail.is_set_up():
        sent = mail.send(
            to=row.email,
            subject=gettext("Invitation to %(organisation)s") % {"organisation": row.organisation},
            template="access/mail/invitation.txt",
            card=card_of(handed, request.build_absolute_uri),
        )
        words = (
            gettext("It was sent to %(email)s.") % {"email": row.email}
            if sent
            else gettext("It could not be sent to %(email)s. Hand it over.") % {"email": row.email}
        )
        (messages.success if sent else messages.warning)(request, words)
    path = reverse("access:invitation", args=[row.pk])
    return handing.carry(redirect(path), handed, path=path)


def _invitation(request: HttpRequest, pk: int) -> Invitation:
    return get_object_or_404(invitations.invitations_of(organisation=request.organisation), pk=pk)


@never_cache
@require_GET
@of_people
def show(request: HttpRequest, pk: int) -> HttpResponse:
    row = _invitation(request, pk)
    handed = handing.carried(request, row)
    card = card_of(handed, request.build_absolute_uri) if handed else None
    context = {"invitation": row, "card": card, **invitation_words(row)}
    return render(request, "access/invitation.html", context)


@require_POST
@of_people
def renew(request: HttpRequest, pk: int) -> HttpResponse:
    row = _invitation(request, pk)
    try:
        return hand_over(request, invitations.renew(**actor_kwargs(request), invitation=row))
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("access:invitation", pk)


@require_POST
@of_people
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    row = _invitation(request, pk)
    return run_action(
        request,
        lambda: invitations.withdraw(**actor_kwargs(request), invitation=row),
        message=gettext("The invitation of %(row)s is withdrawn. Its link and its card let nobody in.")
        % {"row": row.name},
        redirect_to="access:people",
    )
