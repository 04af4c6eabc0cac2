"""Pages of change orders."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.access import mail
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import actor_kwargs, run_action
from farmbuild.quotes.changes import selectors, services
from farmbuild.quotes.changes.forms import AnswerForm, DraftForm, LineForm
from farmbuild.quotes.changes.presenters import answered_words, lines_of, offer_of_change
from farmbuild.quotes.models import ChangeOrder, Job
from farmbuild.quotes.sending import links
from farmbuild.quotes.sending.forms import LinkForm, SendQuoteForm, days_on
from farmbuild.quotes.sending.presenters import links_shown
from farmbuild.quotes.sending.views.versions import file_answer, hand_over_by_mail
from farmbuild.workbooks.services import XLSX

#: Days that a change order holds, unless said otherwise.
DAYS = 14


def _job(request: HttpRequest, number: int) -> Job:
    return get_object_or_404(selectors.jobs_of(organisation=request.organisation), number=number)


def _change(request: HttpRequest, number: int, change: int) -> ChangeOrder:
    rows = selectors.changes_of(organisation=request.organisation)
    return get_object_or_404(rows, job__number=number, number=change)


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest, number: int) -> HttpResponse:
    job = _job(request, number)
    form = DraftForm(request.POST or None, organisation=request.organisation)
    if request.method == "POST" and form.is_valid():
        try:
            change = services.draft_change(**actor_kwargs(request), job=job, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            return redirect("quotes:change", number, change.number)
    return render(request, "quotes/changes/new.html", {"job": job, "form": form})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest, number: int, change: int) -> HttpResponse:
    """A form adds a line to a draft."""
    row = _change(request, number, change)
    form = LineForm(request.POST or None, organisation=request.organisation)
    if request.method == "POST" and form.is_valid():
        try:
            services.add_line(**actor_kwargs(request), change=row, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            return redirect("quotes:change", number, change)
    email = row.job.customer.email if mail.is_set_up() else ""
    context = {
        "change": row,
        "job": row.job,
        "form": form,
        "lines": lines_of(row),
        "offer": offer_of_change(row),
        "answered": answered_words(row),
        "links": links_shown(request, row, timezone.now()),
        "link_form": LinkForm(organisation=request.organisation, email=email),
    }
    return render(request, "quotes/changes/change.html", context)


def _press(request: HttpRequest, number: int, change: int, act, message: str, to: str = "") -> HttpResponse:
    back = reverse("quotes:change", args=[number, change])
    return run_action(request, act, message=message, redirect_to=to or back, refused_redirect_to=back)


@require_POST
def line_remove(request: HttpRequest, number: int, change: int, at: int) -> HttpResponse:
    row = _change(request, number, change)
    return _press(
        request,
        number,
        change,
        lambda: services.remove_line(**actor_kwargs(request), change=row, at=at),
        gettext("The line is taken out."),
    )


@require_POST
def drop(request: HttpRequest, number: int, change: int) -> HttpResponse:
    row = _change(request, number, change)
    return _press(
        request,
        number,
        change,
        lambda: services.drop_change(**actor_kwargs(request), change=row),
        gettext("The draft is taken away."),
        reverse("quotes:job", args=[number]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def send(request: HttpRequest, number: int, change: int) -> HttpResponse:
    row = _change(request, number, change)
    initial = {"valid_until": days_on(DAYS)}
    form = SendQuoteForm(request.POST or None, organisation=request.organisation, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.send_change(**actor_kwargs(request), change=row, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(request, gettext("Change %(change)s is kept as it is now.") % {"change": change})
            return redirect("quotes:change", number, change)
    context = {"change": row, "job": row.job, "form": form, "offer": offer_of_change(row)}
    return render(request, "quotes/changes/send.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def answer(request: HttpRequest, number: int, change: int) -> HttpResponse:
    row = _change(request, number, change)
    form = AnswerForm(
        request.POST or None,
        organisation=request.organisation,
        initial={"name": row.job.customer.contact or row.job.customer.name},
    )
    if request.method == "POST" and form.is_valid():
        try:
            services.answer_on_behalf(**actor_kwargs(request), change=row, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(request, gettext("The answer is written down."))
            return redirect("quotes:change", number, change)
    return render(request, "quotes/changes/answer.html", {"change": row, "job": row.job, "form": form})


@require_POST
def link_new(request: HttpRequest, number: int, change: int) -> HttpResponse:
    row = _change(request, number, change)
    path = reverse("quotes:change", args=[number, change])
    email = row.job.customer.email if mail.is_set_up() else ""
    form = LinkForm(request.POST, organisation=request.organisation, email=email)
    if not form.is_valid():
        messages.error(request, " ".join(words for errors in form.errors.values() for words in errors))
        return redirect(path)
    by_email = form.cleaned_data.pop("by_email", False)
    try:
        made = links.make_link(**actor_kwargs(request), of=row, **form.cleaned_data)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(path)
    messages.success(request, gettext("The link is made. Copy it now: it is shown for a quarter of an hour."))
    if by_email:
        hand_over_by_mail(request, made, email, row)
    return links.carry(redirect(f"{path}#links"), made, path=path)


@require_GET
def pdf(request: HttpRequest, number: int, change: int) -> HttpResponse:
    return _file(request, number, change, "pdf", "pdf", "application/pdf")


@require_GET
def workbook(request: HttpRequest, number: int, change: int) -> HttpResponse:
    return _file(request, number, change, "workbook", "xlsx", XLSX)


def _file(request: HttpRequest, number: int, change: int, name: str, ending: str, kind: str) -> HttpResponse:
    row = _change(request, number, change)
    if row.state == ChangeOrder.State.DRAFT:
        raise Http404(gettext("A draft has no file."))
    data = selectors.file_of_change(change=row, name=name)
    return file_answer(data, f"change-{row.job.reference}-{row.number}.{ending}".lower(), kind)
