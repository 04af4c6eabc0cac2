"""Pages on which a quote goes out, and of what went out."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.access import mail
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import actor_kwargs, run_action
from farmbuild.common.speaking import said_list
from farmbuild.orgs.clock import today
from farmbuild.orgs.languages import in_shared_language
from farmbuild.quotes.models import ChangeOrder, Job, QuoteVersion
from farmbuild.quotes.sending import links, services
from farmbuild.quotes.sending.accepting import Answer, accept_on_behalf
from farmbuild.quotes.sending.forms import BehalfForm, LinkForm, SendQuoteForm, days_on
from farmbuild.quotes.sending.lookup import quote_or_404, version_or_404
from farmbuild.quotes.sending.presenters import address_of, links_shown, offer_of_version
from farmbuild.quotes.sending.selectors import acceptance_by, any_link_of, earlier_than, file_of, versions_of_quote
from farmbuild.sites.selectors import sites_of
from farmbuild.workbooks.services import XLSX


@require_http_methods(["GET", "HEAD", "POST"])
def send(request: HttpRequest, number: int) -> HttpResponse:
    quote = quote_or_404(request, number)
    initial = {"valid_until": days_on(quote.valid_days)}
    form = SendQuoteForm(request.POST or None, organisation=request.organisation, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            version = services.send_quote(**actor_kwargs(request), quote=quote, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            before = said_list(map(str, earlier_than(version=version)))
            no_longer = gettext(" Version %(before)s no longer holds.") % {"before": before} if before else ""
            messages.success(
                request,
                gettext("Version %(number)s is kept as it is now.%(no_longer)s")
                % {"number": version.number, "no_longer": no_longer},
            )
            return redirect("quotes:version", number, version.number)
    context = {
        "quote": quote,
        "form": form,
        "versions": versions_of_quote(quote=quote),
        "may_be_sent": quote.job.state in (Job.State.ENQUIRY, Job.State.QUOTED),
    }
    return render(request, "quotes/sending/send.html", context)


@never_cache
@require_GET
def show(request: HttpRequest, number: int, version: int) -> HttpResponse:
    row = version_or_404(request, number, version)
    context = {
        "version": row,
        "quote": row.quote,
        "job": row.quote.job,
        "offer": offer_of_version(row),
        "links": links_shown(request, row, timezone.now()),
        "link_form": LinkForm(organisation=request.organisation, email=_email(row)),
        "accepted": acceptance_by(version=row),
        "over": row.valid_until < today(),
    }
    response = render(request, "quotes/sending/version.html", context)
    response["Referrer-Policy"] = "same-origin"
    return response


def _email(version: QuoteVersion) -> str:
    return version.quote.job.customer.email if mail.is_set_up() else ""


@require_GET
def pdf(request: HttpRequest, number: int, version: int) -> HttpResponse:
    row = version_or_404(request, number, version)
    return file_answer(file_of(version=row, name="pdf"), f"{_file_name(row)}.pdf", "application/pdf")


@require_GET
def workbook(request: HttpRequest, number: int, version: int) -> HttpResponse:
    row = version_or_404(request, number, version)
    return file_answer(file_of(version=row, name="workbook"), f"{_file_name(row)}.xlsx", XLSX)


def _file_name(version: QuoteVersion) -> str:
    return f"quote-{version.quote.reference}-version-{version.number}".lower()


def file_answer(data: bytes, name: str, kind: str) -> HttpResponse:
    response = HttpResponse(data, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@require_POST
def link_new(request: HttpRequest, number: int, version: int) -> HttpResponse:
    row = version_or_404(request, number, version)
    path = reverse("quotes:version", args=[number, version])
    email = _email(row)
    form = LinkForm(request.POST, organisation=request.organisation, email=email)
    if not form.is_valid():
        messages.error(request, " ".join(words for errors in form.errors.values() for words in errors))
        return redirect(path)
    by_email = form.cleaned_data.pop("by_email", False)
    made = links.make_link(**actor_kwargs(request), of=row, **form.cleaned_data)
    messages.success(request, gettext("The link is made. Copy it now: it is shown for a quarter of an hour."))
    if by_email:
        hand_over_by_mail(request, made, email, row)
    return links.carry(redirect(f"{path}#links"), made, path=path)


def hand_over_by_mail(request: HttpRequest, made: links.NewLink, email: str, what: QuoteVersion | ChangeOrder) -> None:
    """In the language in which the organisation writes to others."""
    organisation = request.organisation
    with in_shared_language(organisation):
        sent = mail.send(
            to=email,
            subject=gettext("%(what)s of %(organisation)s") % {"what": what, "organisation": organisation.name},
            template="quotes/sending/mail.txt",
            what=str(what),
            organisation=organisation,
            link=made.link,
            address=address_of(made.secret, request.build_absolute_uri),
        )
    words = (
        gettext("It was sent to %(email)s.") % {"email": email}
        if sent
        else gettext("It could not be sent to %(email)s. Copy the link instead.") % {"email": email}
    )
    (messages.success if sent else messages.warning)(request, words)


@require_POST
def link_end(request: HttpRequest, pk: int) -> HttpResponse:
    link = get_object_or_404(any_link_of(organisation=request.organisation), pk=pk)
    if link.version:
        back = reverse("quotes:version", args=[link.version.quote.number, link.version.number])
    else:
        back = reverse("quotes:change", args=[link.change.job.number, link.change.number])
    return run_action(
        request,
        lambda: links.end_link(**actor_kwargs(request), link=link),
        message=gettext("The link is ended. It leads nowhere from now on."),
        redirect_to=back,
    )


@require_http_methods(["GET", "HEAD", "POST"])
def accept(request: HttpRequest, number: int, version: int) -> HttpResponse:
    row = version_or_404(request, number, version)
    offer = offer_of_version(row)
    job = row.quote.job
    form = BehalfForm(
        request.POST or None,
        offered=offer.offered,
        sites=sites_of(organisation=request.organisation),
        initial={"name": job.customer.contact or job.customer.name, "site": job.site_id},
    )
    if request.method == "POST" and form.is_valid():
        answer = Answer(form.option(), form.cleaned_data["name"], form.cleaned_data["day"], form.cleaned_data["how"])
        try:
            accept_on_behalf(**actor_kwargs(request), version=row, answer=answer, site=form.cleaned_data["site"])
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request, gettext("It is accepted. Its houses are made, and a plan is tried: nothing is ordered.")
            )
            return redirect("quotes:version", number, version)
    return render(request, "quotes/sending/accept.html", {"version": row, "offer": offer, "job": job, "form": form})


@require_http_methods(["GET", "HEAD", "POST"])
def withdraw(request: HttpRequest, number: int, version: int) -> HttpResponse:
    row = version_or_404(request, number, version)
    if request.method == "POST":
        return run_action(
            request,
            lambda: services.withdraw_version(**actor_kwargs(request), version=row),
            message=gettext("Version %(version)s is withdrawn. It can be accepted no more.") % {"version": version},
            redirect_to=reverse("quotes:version", args=[number, version]),
        )
    return render(request, "quotes/sending/withdraw.html", {"version": row})
