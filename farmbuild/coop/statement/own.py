"""What a member sees of its account: as it stands, statements that went out to it, and damage it is asked for."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_safe

from farmbuild.common.pages import ROWS, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.charges import presenters as charges
from farmbuild.coop.charges.forms import DisputeForm
from farmbuild.coop.charges.selectors import damages_of_member
from farmbuild.coop.charges.services import dispute_damage
from farmbuild.coop.members.seeing import as_member
from farmbuild.coop.statement import files, presenters, selectors
from farmbuild.coop.statement.frozen import frozen_statement
from farmbuild.coop.statement.tables import OwnLineTable, OwnSentTable
from farmbuild.coop.statement.views import PDF, attachment, days_asked, sent_file, with_tables
from farmbuild.crew.bookings.photo_words import photo_answer, photos_told
from farmbuild.crew.bookings.photos import photos_of_booking, photos_of_member
from farmbuild.crew.models import Member
from farmbuild.workbooks.services import XLSX


@require_GET
@as_member
def account(request: HttpRequest, member: Member) -> HttpResponse:
    organisation = member.organisation
    form, first, last = days_asked(request, organisation)
    statement = selectors.statement_of(member=member, first=first, last=last)
    sent = paged(request, OwnSentTable(selectors.sent_to(member=member), organisation=organisation), rows=ROWS)
    page = presenters.statement_page(statement, organisation=organisation)
    context = with_tables(request, page, organisation, OwnLineTable) | {
        "member": member,
        "lender": organisation,
        "days_form": form,
        "query": request.GET.urlencode(),
        "sent": sent,
        "sent_count": sent.paginator.count,
        "damages": [charges.damage_told(one) for one in damages_of_member(member=member)],
    }
    return render(request, "coop/statement/own_account.html", context)


def _shown(request: HttpRequest, member: Member) -> dict:
    _, first, last = days_asked(request, member.organisation)
    statement = selectors.statement_of(member=member, first=first, last=last)
    return frozen_statement(statement, organisation=member.organisation)


@require_safe
@as_member
def account_pdf(request: HttpRequest, member: Member) -> HttpResponse:
    return attachment(files.statement_pdf(_shown(request, member)), PDF, f"account-{member.slug}.pdf")


@require_safe
@as_member
def account_workbook(request: HttpRequest, member: Member) -> HttpResponse:
    return attachment(files.statement_workbook(_shown(request, member)), XLSX, f"account-{member.slug}.xlsx")


@require_safe
@as_member
def statement_pdf(request: HttpRequest, member: Member, number: int) -> HttpResponse:
    return sent_file(get_object_or_404(selectors.sent_to(member=member), number=number), "pdf")


@require_safe
@as_member
def statement_workbook(request: HttpRequest, member: Member, number: int) -> HttpResponse:
    return sent_file(get_object_or_404(selectors.sent_to(member=member), number=number), "workbook")


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def damage(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    """Damage that it is asked for, with the photos; posting says why it is not owed."""
    lender = member.organisation
    found = get_object_or_404(damages_of_member(member=member), pk=pk)
    form = DisputeForm(request.POST or None, organisation=lender)
    address = reverse("coop:seen-damage", args=[lender.slug, pk])
    answer = save_form(
        request,
        form,
        lambda data: dispute_damage(member=member, user=request.user, damage=found, **data),
        message=gettext("Said: {}. Whoever runs the benders sees it."),
        redirect_to=address,
    )

    photos = photos_told(photos_of_booking(booking=found.booking), lender=lender.slug)
    context = {
        "member": member,
        "lender": lender,
        "damage": found,
        "booking": found.booking,
        "told": charges.damage_told(found),
        "photos": photos,
        "form": form if found.state == found.State.ASKED else None,
    }
    return answer or render(request, "coop/statement/own_damage.html", context)


@require_safe
@as_member
def picture(request: HttpRequest, member: Member, pk: int, small: bool) -> HttpResponseBase:
    found = get_object_or_404(photos_of_member(member=member), pk=pk)
    if found.removed_at:
        raise Http404
    return photo_answer(request, found, small=small)
