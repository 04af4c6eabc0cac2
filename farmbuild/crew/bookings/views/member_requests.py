"""Members, their requests, and the proposal for all that are open."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, actor_kwargs, run_action, save_form
from farmbuild.crew.bookings import member_requests
from farmbuild.crew.bookings.forms import DeclineForm, MemberForm, RequestForm
from farmbuild.crew.bookings.proposals import member_bars, proposal_of
from farmbuild.crew.bookings.selectors import (
    answered_requests_of,
    any_member_of,
    members_of,
    open_requests_of,
    requests_of,
)
from farmbuild.crew.bookings.sharing_rules import effects_of
from farmbuild.crew.bookings.signins import sign_ins_for
from farmbuild.crew.bookings.tables import MemberDaysTable, MemberTable, RequestTable, what
from farmbuild.crew.models import BenderRequest, Member
from farmbuild.orgs.clock import today_of


class MemberList(OrgList):
    table_class = MemberTable
    template_name = "crew/bookings/members.html"
    rows = any_member_of
    archives = True


def _member(request: HttpRequest, slug: str) -> Member:
    return get_object_or_404(any_member_of(organisation=request.organisation), slug=slug)


def member(request: HttpRequest, slug: str | None = None) -> HttpResponse:
    """A new one, or one to look at and change."""
    row = _member(request, slug) if slug else None
    name = row.name if row else ""
    form = MemberForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: member_requests.save_member(**actor_kwargs(request), data=data, member=row),
        message=gettext("{} is saved."),
        redirect_to="crew:members",
    )
    sign_ins = sign_ins_for(member=row) if row else ()
    context = {"form": form, "member": row, "name": name, "sign_ins": sign_ins}
    return answer or render(request, "crew/bookings/member.html", context)


@require_POST
def archive_member(request: HttpRequest, slug: str) -> HttpResponse:
    row = _member(request, slug)
    act = member_requests.bring_back_member if row.archived_at else member_requests.archive_member
    says = (
        gettext("%(row)s is back.") % {"row": row}
        if row.archived_at
        else gettext("%(row)s is archived; nothing new is lent to it.") % {"row": row}
    )
    return run_action(
        request, lambda: act(**actor_kwargs(request), member=row), message=says, redirect_to="crew:members"
    )


class RequestList(OrgList):
    table_class = RequestTable
    template_name = "crew/bookings/requests.html"

    def get_queryset(self):
        self.archived = self.request.GET.get("past") == "1"
        rows = answered_requests_of if self.archived else open_requests_of
        return rows(organisation=self.request.organisation)


def _request(request: HttpRequest, pk: int) -> BenderRequest:
    return get_object_or_404(requests_of(organisation=request.organisation), pk=pk)


def new_request(request: HttpRequest) -> HttpResponse:
    if not members_of(organisation=request.organisation).exists():
        messages.info(request, gettext("A request is of a member. Add the member first."))
        return redirect("crew:member-new")
    form = RequestForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: member_requests.create_request(**actor_kwargs(request), data=data),
        message=gettext("Noted: {}."),
        redirect_to="crew:requests",
    )
    return answer or render(request, "crew/bookings/request_form.html", {"form": form})


def show_request(request: HttpRequest, pk: int) -> HttpResponse:
    row = _request(request, pk)
    booking = getattr(row, "booking", None)
    return render(request, "crew/bookings/request.html", {"row": row, "what": what(row), "booking": booking})


def decline(request: HttpRequest, pk: int) -> HttpResponse:
    """Says no to it, with the reason that the member reads."""
    row = _request(request, pk)
    if row.state != row.State.ASKED:
        messages.error(
            request,
            gettext("This request is %(lower)s: there is nothing to decline.")
            % {"lower": row.get_state_display().lower()},
        )
        return redirect("crew:request", pk)
    form = DeclineForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: member_requests.decline_request(**actor_kwargs(request), request=row, **data),
        message=gettext("The request of %(member)s is declined.") % {"member": row.member},
        redirect_to="crew:proposal",
    )
    return answer or render(request, "crew/bookings/decline.html", {"form": form, "row": row, "what": what(row)})


@require_POST
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    row = _request(request, pk)
    return run_action(
        request,
        lambda: member_requests.withdraw_request(**actor_kwargs(request), request=row),
        message=gettext("The request of %(member)s is withdrawn.") % {"member": row.member},
        redirect_to="crew:requests",
    )


def _proposed_booking(key: str) -> member_requests.ProposedBooking:
    try:
        row, bender, first, last = key.split("_")
        return member_requests.ProposedBooking(
            int(row), int(bender), date.fromisoformat(first), date.fromisoformat(last)
        )
    except ValueError as error:
        raise ValidationError(
            gettext("The page was out of date. Nothing was booked; look at the page again.")
        ) from error


def proposal(request: HttpRequest) -> HttpResponse:
    """What is ticked is booked as it was shown, all or none."""
    if request.method == "POST":
        try:
            wishes = [_proposed_booking(key) for key in request.POST.getlist("wish")]
            made = member_requests.book_proposal(**actor_kwargs(request), wishes=wishes)
        except ValidationError as error:
            for words in error.messages:
                messages.error(request, words)
            return redirect("crew:proposal")
        messages.success(
            request,
            gettext("%(made)s booked.") % {"made": len(made)}
            if len(made) > 1
            else gettext("Booked: %(made)s.") % {"made": made[0]},
        )
        return redirect("crew:shared")
    found = proposal_of(organisation=request.organisation)
    context = {
        "proposal": found,
        "picture": member_bars(found),
        "members": MemberDaysTable(found.members, organisation=request.organisation, orderable=False),
        "effects": effects_of(found.rules, today_of(organisation=request.organisation)),
    }
    return render(request, "crew/bookings/proposal.html", context)
