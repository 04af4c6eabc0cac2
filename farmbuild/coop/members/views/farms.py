"""Pages of a farm: the cooperatives of which it is a member, and the card by which it becomes one."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from farmbuild.access import cards
from farmbuild.access.forms import InvitationCodeForm
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import ROWS, actor_kwargs, run_action
from farmbuild.common.paging import paged
from farmbuild.coop.members import services
from farmbuild.coop.members.seeing import as_member
from farmbuild.coop.members.selectors import cooperatives_of, left_by, what_ends
from farmbuild.coop.members.tables import CooperativeTable
from farmbuild.coop.models import FarmCard
from farmbuild.crew.models import Member
from farmbuild.orgs.addresses import reverse_outside

#: In the session, between the link and the form: the digest of the link, which does nothing elsewhere.
_KEPT = "farm card"
#: So many cooperatives that it left are named.
FEW = 5


@require_GET
def show_all(request: HttpRequest) -> HttpResponse:
    table = CooperativeTable(cooperatives_of(farm=request.organisation), organisation=request.organisation)
    paged(request, table, rows=ROWS)
    context = {"table": table, "count": table.paginator.count, "left": left_by(farm=request.organisation)[:FEW]}
    return render(request, "coop/members/cooperatives.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def move(request: HttpRequest, member: Member) -> HttpResponse:
    """Somebody who signs in for a member makes a farm of it."""
    if not request.user.visitor:
        raise Http404("This member is a farm already.")
    if request.method == "POST":
        try:
            services.move_own_over(member=member, user=request.user)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
            return redirect("coop:seen", member.organisation.slug)
        messages.success(
            request, gettext("%(member)s has its own farm here now. Your password stays as it is.") % {"member": member}
        )
        return redirect(reverse_outside("home"))
    return render(request, "coop/members/own_farm.html", {"member": member, "lender": member.organisation})


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def leave(request: HttpRequest, member: Member) -> HttpResponse:
    """Asks first."""
    ends = what_ends(member=member, farm=request.organisation) if request.organisation else []
    if request.method != "POST":
        context = {"member": member, "lender": member.organisation, "ends": ends}
        return render(request, "coop/members/leave.html", context)
    return run_action(
        request,
        lambda: services.leave(**actor_kwargs(request), member=member),
        message=" ".join(
            [
                gettext("Ended. You see nothing of %(organisation)s any more.") % {"organisation": member.organisation},
                *ends,
            ]
        ),
        redirect_to="home",
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def by_code(request: HttpRequest) -> HttpResponse:
    form = InvitationCodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            found = cards.by_code(FarmCard, form.cleaned_data["code"], request=request)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            if found:
                return _on(request, found)
            form.add_error("code", gettext("There is no such card. Compare each sign with it."))
    return render(request, "coop/members/card_code.html", {"form": form})


@never_cache
@require_GET
def by_link(request: HttpRequest, token: str) -> HttpResponse:
    """On to an address without the token, which no other page and no history then has."""
    found = cards.by_link(FarmCard, token)
    return _on(request, found) if found else render(request, "coop/members/card_not.html", status=404)


def _on(request: HttpRequest, card: FarmCard) -> HttpResponse:
    request.session[_KEPT] = card.digest
    return redirect("coop:card-take")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def take(request: HttpRequest) -> HttpResponse:
    digest = request.session.get(_KEPT, "")
    card = cards.by_key(FarmCard, digest) if digest else None
    if card is None:
        return redirect("coop:card-code")
    if why := cards.why_not(card):
        return render(request, "coop/members/card_not.html", {"why_not": why})
    refused: list[str] = []
    if request.method == "POST":
        try:
            row = services.take_card(**actor_kwargs(request), digest=digest)
        except ValidationError as error:
            refused = error.messages
        else:
            del request.session[_KEPT]
            messages.success(
                request,
                gettext("%(farm)s is a member of %(organisation)s now.")
                % {"farm": row.farm, "organisation": row.organisation},
            )
            return redirect(reverse("coop:seen", args=[row.organisation.slug]))
    return render(request, "coop/members/card_take.html", {"card": card, "refused": refused})
