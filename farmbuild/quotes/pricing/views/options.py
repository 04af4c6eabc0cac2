"""Pages of one option: its houses and its lines."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from farmbuild.common.pages import actor_kwargs, get_object_or_none, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.quotes.models import Job, Option, OptionHouse, QuoteLine
from farmbuild.quotes.pricing import selectors, services
from farmbuild.quotes.pricing.bridge import price_lines
from farmbuild.quotes.pricing.forms import LineForm, OptionHouseForm, RenameForm
from farmbuild.quotes.pricing.presenters import lines_by_part, parts_shown
from farmbuild.quotes.pricing.specs import MissingRow, houses_from
from farmbuild.quotes.pricing.tables import LineTable
from farmbuild.sites.house_form import MORE, add_row_errors, both_right
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.models import House
from farmbuild.sites.own_rows import own_rows_form
from farmbuild.sites.presenters import person_text, shown_starter, starter_drawings
from farmbuild.sites.selectors import houses_to_copy
from farmbuild.sites.shown_form import shown_form
from farmbuild.sites.starters import starter_named, starter_values, values_like

#: Own houses offered.
MAX_OWN = 12


def _option(request: HttpRequest, number: int, position: int) -> Option:
    rows = selectors.options_of(organisation=request.organisation)
    return get_object_or_404(rows, quote__number=number, position=position)


def _page(option: Option) -> str:
    return reverse("quotes:option", args=[option.quote.number, option.position])


@require_safe
def show(request: HttpRequest, number: int, position: int) -> HttpResponse:
    option = _option(request, number, position)
    quote = option.quote
    priced = price_lines(quote, option.lines.all(), quote.currency)
    tables = [
        (part, paged(request, LineTable(rows, prefix=f"{part.key}-"), rows=None))
        for part, rows in lines_by_part(option, quote, priced)
    ]
    context = {
        "option": option,
        "quote": quote,
        "priced": priced.priced,
        "parts": parts_shown(priced),
        "tables": tables,
        "open": quote.job.state in (Job.State.ENQUIRY, Job.State.QUOTED),
        "ready": option.priced_at is not None and not option.not_priced,
    }
    return render(request, "quotes/option.html", context)


def rename(request: HttpRequest, number: int, position: int) -> HttpResponse:
    option = _option(request, number, position)
    form = RenameForm(request.POST or None, initial={"name": option.name}, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.rename_option(**actor_kwargs(request), option=option, name=data["name"]),
        message=gettext("{} is saved."),
        redirect_to=_page(option),
    )
    return answer or render(request, "quotes/option_form.html", {"form": form, "quote": option.quote, "option": option})


@require_POST
def remove(request: HttpRequest, number: int, position: int) -> HttpResponse:
    option = _option(request, number, position)
    return run_action(
        request,
        lambda: services.remove_option(**actor_kwargs(request), option=option),
        message=gettext("%(option)s is taken out.") % {"option": option},
        redirect_to=reverse("quotes:quote", args=[number]),
        refused_redirect_to=_page(option),
    )


@require_POST
def price(request: HttpRequest, number: int, position: int) -> HttpResponse:
    option = _option(request, number, position)
    return run_action(
        request,
        lambda: services.price_option(**actor_kwargs(request), option=option),
        message=gettext("Worked out anew at today's offers; what was typed stays."),
        redirect_to=_page(option),
    )


# Houses


def choose_house(request: HttpRequest, number: int, position: int) -> HttpResponse:
    """From a starter, or like one of their own."""
    option = _option(request, number, position)
    if request.method == "POST":
        starter = starter_named(request.POST.get("starter", ""))
        if starter is None:
            raise Http404(gettext("There is no such starter."))
        try:
            services.begin_with(**actor_kwargs(request), starter=starter)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
            return redirect("quotes:house-choose", number, position)
        return redirect("quotes:house-new", number, position, starter.slug)
    organisation = request.organisation
    context = {
        "option": option,
        "quote": option.quote,
        "starters": starter_drawings(organisation=organisation, units=organisation.unit_system),
        "person": person_text(organisation.unit_system),
        "own": houses_to_copy(organisation=organisation, most=MAX_OWN),
    }
    return render(request, "quotes/house_choose.html", context)


def new_house(request: HttpRequest, number: int, position: int, starter: str) -> HttpResponse:
    option = _option(request, number, position)
    chosen = starter_named(starter)
    if chosen is None:
        raise Http404(gettext("There is no such starter."))
    initial = starter_values(organisation=request.organisation, starter=chosen)
    if initial is None and request.method != "POST":
        return redirect("quotes:house-choose", number, position)
    begun = {"starter": shown_starter(chosen), "name": chosen.name}
    return _house_form(request, option, {"name": chosen.name, **(initial or {})}, begun, starter=chosen.slug)


def house_like(request: HttpRequest, number: int, position: int, slug: str) -> HttpResponse:
    option = _option(request, number, position)
    house = house_or_404(organisation=request.organisation, slug=slug)
    initial = values_like(house) | {"name": house.name}
    return _house_form(request, option, initial, {"like": house, "name": house.name}, like=house)


def edit_house(request: HttpRequest, number: int, position: int, pk: int) -> HttpResponse:
    option = _option(request, number, position)
    row = _row(request, number, position, pk)
    try:
        house = houses_from([row], organisation=request.organisation)[0]
    except MissingRow as error:
        messages.error(request, str(error))
        return redirect(_page(option))
    initial = values_like(house) | {"name": row.name, "quantity": row.quantity}
    return _house_form(request, option, initial, {"row": row, "name": row.name}, like=house, row=row)


def _row(request: HttpRequest, number: int, position: int, pk: int) -> OptionHouse:
    rows = selectors.option_houses_of(organisation=request.organisation)
    return get_object_or_404(rows, option__quote__number=number, option__position=position, pk=pk)


def _house_form(
    request: HttpRequest,
    option: Option,
    initial: dict[str, Any],
    more: dict[str, Any],
    *,
    like: House | None = None,
    row: OptionHouse | None = None,
    starter: str = "",
) -> HttpResponse:
    organisation = request.organisation
    form = OptionHouseForm(request.POST or None, initial=initial, organisation=organisation)
    sent = request.POST if "rows-TOTAL_FORMS" in request.POST else None
    rows = own_rows_form(sent, organisation=organisation, house=like, more=MORE in request.POST, shared=form.shared)
    if both_right(form, rows, request):
        data = dict(form.cleaned_data)
        given = {
            "name": data.pop("name"),
            "quantity": data.pop("quantity"),
            "data": data,
            "own_rows": rows.values() if rows.is_bound else (),
        }
        try:
            if row:
                services.save_house(**actor_kwargs(request), house=row, **given)
            else:
                own = like if like and like.pk else None
                services.add_house(**actor_kwargs(request), option=option, source=own, starter=starter, **given)
        except ValidationError as error:
            add_row_errors(form, rows, error)
        else:
            messages.success(
                request,
                gettext("%(given)s is saved, and %(option)s is priced.")
                % {"given": given["name"], "option": option.name},
            )
            return redirect(_page(option))
    context = {
        "form": form,
        "option": option,
        "quote": option.quote,
    }
    context |= shown_form(request, form, rows, reverse("sites:house-draw-new"))
    return render(request, "quotes/house_form.html", context | more)


@require_POST
def remove_house(request: HttpRequest, number: int, position: int, pk: int) -> HttpResponse:
    row = _row(request, number, position, pk)
    return run_action(
        request,
        lambda: services.remove_house(**actor_kwargs(request), house=row),
        message=gettext("%(row)s is taken out.") % {"row": row},
        redirect_to=reverse("quotes:option", args=[number, position]),
    )


# Lines


def _gone(request: HttpRequest, number: int, position: int, what: str) -> HttpResponse:
    """Somebody took the option out, or the line, while it was typed: nothing is saved, and what was typed is told."""
    get_object_or_404(selectors.quotes_of(organisation=request.organisation), number=number)
    options = selectors.options_of(organisation=request.organisation)
    option = get_object_or_none(options, quote__number=number, position=position)
    typed = LineForm(request.POST, organisation=request.organisation).typed()
    words = (
        gettext("Somebody took this option out while you were typing, so nothing is saved.")
        if what == "option"
        else gettext("Somebody took this line out while you were typing, so nothing is saved.")
    )
    messages.error(
        request, gettext("%(words)s You typed: %(typed)s.") % {"words": words, "typed": typed} if typed else words
    )
    return redirect(_page(option)) if option else redirect("quotes:quote", number)


def _line(request: HttpRequest, number: int, position: int, pk: int) -> QuoteLine:
    rows = selectors.lines_of(organisation=request.organisation)
    return get_object_or_404(rows, option__quote__number=number, option__position=position, pk=pk)


def new_line(request: HttpRequest, number: int, position: int) -> HttpResponse:
    options = selectors.options_of(organisation=request.organisation)
    option = get_object_or_none(options, quote__number=number, position=position)
    if option is None and request.method == "POST":
        return _gone(request, number, position, "option")
    option = option or _option(request, number, position)
    form = LineForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.add_line(**actor_kwargs(request), option=option, data=data),
        message=gettext("{} is added."),
        redirect_to=_page(option),
    )
    return answer or render(request, "quotes/line.html", {"form": form, "option": option, "quote": option.quote})


def line(request: HttpRequest, number: int, position: int, pk: int) -> HttpResponse:
    """One line, to type over."""
    lines = selectors.lines_of(organisation=request.organisation)
    if request.method == "POST" and get_object_or_none(lines, option__quote__number=number, pk=pk) is None:
        return _gone(request, number, position, "line")
    row = _line(request, number, position, pk)
    form = LineForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_line(**actor_kwargs(request), line=row, data=data),
        message=gettext("{} is saved."),
        redirect_to=_page(row.option),
    )
    context = {"form": form, "line": row, "option": row.option, "quote": row.option.quote}
    return answer or render(request, "quotes/line.html", context)


@require_POST
def forget(request: HttpRequest, number: int, position: int, pk: int) -> HttpResponse:
    row = _line(request, number, position, pk)
    return run_action(
        request,
        lambda: services.forget_typed(**actor_kwargs(request), line=row),
        message=gettext("%(row)s is as worked out.") % {"row": row},
        redirect_to=_page(row.option),
    )


@require_POST
def remove_line(request: HttpRequest, number: int, position: int, pk: int) -> HttpResponse:
    row = _line(request, number, position, pk)
    return run_action(
        request,
        lambda: services.remove_line(**actor_kwargs(request), line=row),
        message=gettext("%(row)s is taken out.") % {"row": row},
        redirect_to=_page(row.option),
    )
