"""Pages of quotes: the list, their rates, and one with its options side by side."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from farmbuild.common.pages import OrgList, actor_kwargs, get_object_or_none, save_form
from farmbuild.orgs.answers.pages import kept_page
from farmbuild.quotes.models import Job, QuoteRates
from farmbuild.quotes.pricing import selectors, services
from farmbuild.quotes.pricing.forms import OptionForm, QuoteForm, RatesForm
from farmbuild.quotes.pricing.presenters import options_shown
from farmbuild.quotes.pricing.tables import QuoteTable


class QuoteList(OrgList):
    table_class = QuoteTable
    template_name = "quotes/quotes.html"
    rows = selectors.quotes_of


def rates(request: HttpRequest) -> HttpResponse:
    """What new quotes begin with; ``?job=`` leads back to the job that is to be quoted."""
    organisation = request.organisation
    asked = request.GET.get("job", "")
    jobs = selectors.jobs_to_quote(organisation=organisation)
    job = get_object_or_none(jobs, number=asked) if asked.isdecimal() else None
    stored = selectors.rates_for(organisation=organisation)
    row = stored or QuoteRates(organisation=organisation, tax_materials=organisation.tax_percent)
    form = RatesForm(request.POST or None, instance=row, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_rates(**actor_kwargs(request), data=data),
        message=gettext("{} are saved. Quotes that there are keep theirs."),
        redirect_to=job or "quotes:quotes",
    )
    return answer or render(request, "quotes/rates.html", {"form": form, "stored": stored})


@require_POST
def new(request: HttpRequest, number: int) -> HttpResponse:
    """A quote for a job."""
    job = get_object_or_404(selectors.jobs_to_quote(organisation=request.organisation), number=number)
    try:
        quote = services.create_quote(**actor_kwargs(request), job=job)
    except ValidationError as error:
        words = " ".join(error.messages)
        if selectors.rates_for(organisation=request.organisation):
            messages.error(request, words)
            return redirect(job)
        messages.info(request, words)
        return redirect(f"{reverse('quotes:rates')}?job={number}")
    messages.success(request, gettext("%(quote)s is begun. Add the house that it is for.") % {"quote": quote})
    return redirect("quotes:option", quote.number, 1)


@require_safe
@kept_page("quote")
def show(request: HttpRequest, number: int) -> HttpResponse:
    quote = selectors.whole_quote(organisation=request.organisation, number=number)
    if quote is None:
        raise Http404(gettext("No quote has this number."))
    options = options_shown(quote)
    context = {
        "quote": quote,
        "options": options,
        "unlike": [shown for shown in options if shown.unlike],
        "open": quote.job.state in (Job.State.ENQUIRY, Job.State.QUOTED),
    }
    return render(request, "quotes/quote.html", context)


def edit(request: HttpRequest, number: int) -> HttpResponse:
    """Its own rates and words."""
    quote = get_object_or_404(selectors.quotes_of(organisation=request.organisation), number=number)
    form = QuoteForm(request.POST or None, instance=quote, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_quote(**actor_kwargs(request), quote=quote, data=data),
        message=gettext("{} is saved, and its options are priced anew."),
        redirect_to=reverse("quotes:quote", args=[number]),
    )
    return answer or render(request, "quotes/quote_form.html", {"form": form, "quote": quote})


def new_option(request: HttpRequest, number: int) -> HttpResponse:
    quote = get_object_or_404(selectors.quotes_of(organisation=request.organisation), number=number)
    form = OptionForm(request.POST or None, organisation=request.organisation, quote=quote)
    made = {}

    def save(data: dict) -> object:
        made["option"] = services.add_option(**actor_kwargs(request), quote=quote, **data)
        return made["option"]

    answer = save_form(
        request, form, save, message=gettext("{} is added."), redirect_to=reverse("quotes:quote", args=[number])
    )
    if answer and "option" in made:
        return redirect("quotes:option", number, made["option"].position)
    return answer or render(request, "quotes/option_form.html", {"form": form, "quote": quote})
