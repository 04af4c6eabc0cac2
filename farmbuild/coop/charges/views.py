"""Pages of charges: what is proposed and posted, prices, one booking, damage."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.charges import presenters, rates, selectors, services
from farmbuild.coop.charges.forms import AnswerForm, ChargeRateForm, DamageForm, DisputeForm, FreeDaysForm
from farmbuild.coop.charges.tables import EntryTable, ProposedTable, RateTable
from farmbuild.coop.models import Damage
from farmbuild.crew.bookings.photo_words import photos_told
from farmbuild.crew.bookings.photos import photos_of_booking
from farmbuild.crew.models import BenderBooking


@require_GET
def charges(request: HttpRequest) -> HttpResponse:
    """What is posted of benders, and above it what one press posts."""
    organisation = request.organisation
    found = presenters.proposed(organisation=organisation)
    rows = selectors.charges_of(organisation=organisation)
    table = paged(request, EntryTable(rows, organisation=organisation), rows=ROWS)
    context = {
        "proposed": found,
        "proposed_table": paged(request, ProposedTable(found.rows, organisation=organisation, prefix="p-"), rows=None),
        "table": table,
        "count": table.paginator.count,
        "priced": rates.has_prices(organisation=organisation),
    }
    return render(request, "coop/charges/charges.html", context)


@require_POST
def post(request: HttpRequest) -> HttpResponse:
    """What the page proposed, as it showed it."""
    seen = presenters.read_seen(request.POST.get("seen", ""))
    return run_action(
        request,
        lambda: services.post_charges(**actor_kwargs(request), seen=seen),
        message=gettext("The charges are posted."),
        redirect_to="coop:charges",
    )


@require_GET
def prices(request: HttpRequest) -> HttpResponse:
    page = presenters.rates_page(organisation=request.organisation)
    table = paged(request, RateTable(page["rows"], organisation=request.organisation), rows=ROWS)
    return render(request, "coop/charges/prices.html", page | {"table": table})


@require_http_methods(["GET", "HEAD", "POST"])
def price(request: HttpRequest) -> HttpResponse:
    form = ChargeRateForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: rates.set_charge_rate(**actor_kwargs(request), **data),
        message=gettext("The price is set: {}."),
        redirect_to="coop:charge-rates",
    )
    words = gettext("Each day keeps its own price. A new one changes nothing past.")
    return answer or _form(request, form, gettext("Set a price"), words)


@require_http_methods(["GET", "HEAD", "POST"])
def free_days(request: HttpRequest) -> HttpResponse:
    form = FreeDaysForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: rates.set_free_days(**actor_kwargs(request), **data),
        message=gettext("The free days are set: {}."),
        redirect_to="coop:charge-rates",
    )
    words = gettext("A member's first days of a season may cost nothing.")
    return answer or _form(request, form, gettext("Set the free days"), words)


def _form(request: HttpRequest, form: Any, title: str, answer: str) -> HttpResponse:
    return render(request, "coop/charges/form.html", {"form": form, "title": title, "answer": answer})


def _booking(request: HttpRequest, pk: int) -> BenderBooking:
    return get_object_or_404(selectors.bookings_to_charge(organisation=request.organisation), pk=pk)


@require_GET
def booking(request: HttpRequest, pk: int) -> HttpResponse:
    page = presenters.booking_page(_booking(request, pk))
    return render(request, "coop/charges/booking.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
def damage_new(request: HttpRequest, pk: int) -> HttpResponse:
    row = _booking(request, pk)
    form = DamageForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.charge_damage(**actor_kwargs(request), booking=row, **data),
        message=gettext("{} is asked for."),
        redirect_to=reverse("coop:booking", args=[pk]),
    )
    context = {"booking": row, "form": form, "photos": photos_told(photos_of_booking(booking=row))}
    return answer or render(request, "coop/charges/damage_form.html", context)


def _damage(request: HttpRequest, pk: int) -> Damage:
    return get_object_or_404(selectors.damages_of(organisation=request.organisation), pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def damage(request: HttpRequest, pk: int) -> HttpResponse:
    """One damage; posting answers it."""
    found = _damage(request, pk)
    disputed = found.state == found.State.DISPUTED
    form = AnswerForm(request.POST or None, organisation=request.organisation, disputed=disputed)
    answer = save_form(
        request,
        form,
        lambda data: services.answer_damage(**actor_kwargs(request), damage=found, **data),
        message=gettext("{}: answered."),
        redirect_to=reverse("coop:damage", args=[pk]),
    )
    context = {
        "told": presenters.damage_told(found),
        "damage": found,
        "booking": found.booking,
        "photos": photos_told(photos_of_booking(booking=found.booking)),
        "form": None if found.state == found.State.WITHDRAWN else form,
        "may_dispute": found.state == found.State.ASKED,
    }
    return answer or render(request, "coop/charges/damage.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def dispute(request: HttpRequest, pk: int) -> HttpResponse:
    """For a member who said it without signing in."""
    found = _damage(request, pk)
    form = DisputeForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.dispute_for_member(**actor_kwargs(request), damage=found, **data),
        message=gettext("Kept: {}, disputed."),
        redirect_to=reverse("coop:damage", args=[pk]),
    )
    context = {"damage": found, "booking": found.booking, "form": form}
    return answer or render(request, "coop/charges/dispute.html", context)
