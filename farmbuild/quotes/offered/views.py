"""The page of a customer: what was sent, as it was sent, and accepted there. Nobody signs in."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_safe

from farmbuild.common.form_parts import add_service_errors
from farmbuild.measure import use_amounts
from farmbuild.orgs.clock import today, zone_in_force
from farmbuild.quotes.changes.presenters import offer_of_change
from farmbuild.quotes.changes.selectors import file_of_change
from farmbuild.quotes.changes.services import answer_by_link
from farmbuild.quotes.models import QuoteLink
from farmbuild.quotes.sending import links
from farmbuild.quotes.sending.accepting import Answer, accept_by_link
from farmbuild.quotes.sending.forms import AcceptForm
from farmbuild.quotes.sending.presenters import ShownOffer, offer_of_version
from farmbuild.quotes.sending.selectors import acceptance_of, file_of

Page = Callable[[HttpRequest, QuoteLink], HttpResponse]


def _by_link(page: Page) -> Callable[[HttpRequest, str], HttpResponse]:
    """One answer to whatever leads nowhere, in the same words; no page of this kind is kept, listed or told on."""

    @login_not_required
    @sensitive_variables("secret")
    @wraps(page)
    def view(request: HttpRequest, secret: str) -> HttpResponse:
        response = _answer(page, request, secret)
        response["Cache-Control"] = "private, no-store"
        response["X-Robots-Tag"] = "noindex, nofollow"
        # The site itself has to know where a form came from; nobody else gets the address.
        response["Referrer-Policy"] = "same-origin"
        return response

    return view


def _answer(page: Page, request: HttpRequest, secret: str) -> HttpResponse:
    if links.is_resting(request):
        return _nowhere(request, status=429)
    link = links.link_of(secret)
    if link is None:
        links.note_wrong(request)
        return _nowhere(request, status=404)
    with zone_in_force(link.organisation), use_amounts(True):
        return page(request, link)


def _nowhere(request: HttpRequest, *, status: int) -> HttpResponse:
    context = {"resting": status == 429, "guide_job": None}
    return render(request, "quotes/sending/nowhere.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@_by_link
def show(request: HttpRequest, link: QuoteLink) -> HttpResponse:
    return _change(request, link) if link.change else _version(request, link)


def _version(request: HttpRequest, link: QuoteLink) -> HttpResponse:
    def accept(form: AcceptForm) -> None:
        answer = Answer(form.option(), form.cleaned_data["name"], form.cleaned_data["day"])
        accept_by_link(link=link, answer=answer)

    accepted = acceptance_of(job=link.job)
    here = bool(accepted and accepted.version_id == link.version_id)
    offer = offer_of_version(link.version)
    over = link.version.valid_until < today()
    is_open = not (accepted or offer.why_not or over)
    return _asked(request, link, offer, accept, {"accepted": accepted, "here": here, "over": over, "open": is_open})


def _change(request: HttpRequest, link: QuoteLink) -> HttpResponse:
    def answer(form: AcceptForm) -> None:
        accept = request.POST.get("answer") != "decline"
        answer_by_link(link=link, name=form.cleaned_data["name"], day=form.cleaned_data["day"], accept=accept)

    over = link.change.valid_until < today()
    is_open = link.change.state == "sent" and not over
    context = {"change": link.change, "over": over, "open": is_open}
    return _asked(request, link, offer_of_change(link.change), answer, context)


def _asked(
    request: HttpRequest,
    link: QuoteLink,
    offer: ShownOffer,
    answer: Callable[[AcceptForm], None],
    context: dict[str, Any],
) -> HttpResponse:
    """The offer with its form, or what it was answered; ``answer`` writes down what was typed."""
    form = AcceptForm(request.POST or None, offered=offer.offered)
    if request.method == "POST" and form.is_valid():
        try:
            answer(form)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            # Relative, so that the address is written down nowhere.
            return HttpResponseRedirect("./")
    # The guide is for whoever sends.
    context |= {"guide_job": None, "offer": offer, "sender": link.organisation, "form": form}
    return render(request, "quotes/sending/offered.html", context)


@require_safe
@_by_link
def pdf(request: HttpRequest, link: QuoteLink) -> HttpResponse:
    if link.change:
        data = file_of_change(change=link.change, name="pdf")
    else:
        data = file_of(version=link.version, name="pdf")
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="quote.pdf"'
    return response
