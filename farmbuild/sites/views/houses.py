"""Pages of houses."""

from __future__ import annotations

from functools import cache
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import format_html
from django.utils.http import urlencode
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from farmbuild.common.edit_conflicts import EditConflict, refuse_if_changed
from farmbuild.common.once import own_transactions
from farmbuild.common.pages import get_object_or_none, run_action
from farmbuild.hoops.recipes.selectors import recipes_of
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.selectors import other_units
from farmbuild.sites import services
from farmbuild.sites.forms import CopyHouseForm, HouseForm
from farmbuild.sites.house_form import MORE, add_row_errors, both_right, folded_form
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.materials_balance import materials_balance_of
from farmbuild.sites.models import House
from farmbuild.sites.names import house_names, numbered_on
from farmbuild.sites.outdated import outdated_of, outdated_words
from farmbuild.sites.own_rows import OwnRows, own_rows_form
from farmbuild.sites.phases import phases_of
from farmbuild.sites.picture import picture_of
from farmbuild.sites.presenters import house_page, person_text, shown_starter, starter_drawings
from farmbuild.sites.selectors import (
    any_site_of,
    archived_houses_of,
    house_alone,
    houses_asked,
    houses_of,
    houses_to_copy,
    sites_of,
)
from farmbuild.sites.shown_form import shown_form
from farmbuild.sites.starters import Starter, starter_named, starter_values, values_like
from farmbuild.sites.yard.places import place_words
from farmbuild.sites.yard.presenters import yard_page

#: Own houses offered to begin like.
MAX_LIKE = 6
#: Tag of the message that names what is out of date.
TOLD = "outdated"


def _house(request: HttpRequest, slug: str) -> House:
    return house_or_404(organisation=request.organisation, slug=slug)


@require_safe
def yard(request: HttpRequest) -> HttpResponse:
    """All houses, or those of one site, or those that are archived."""
    organisation, archived = request.organisation, request.GET.get("archived") == "1"
    rows, site = (archived_houses_of if archived else houses_of)(organisation=organisation), None
    if slug := request.GET.get("site"):
        site = get_object_or_404(any_site_of(organisation=organisation), slug=slug)
        rows = houses_asked(rows, site=slug)
    with Answers(request) as answers:
        yard = yard_page(answers, rows, number=request.GET.get("page"), ahead=not (archived or site))
    context = {
        "site": site,
        "archived": archived,
        "sites": sites_of(organisation=organisation),
        "summary": yard.summary,
        "yard": yard,
    }
    return render(request, "sites/house_list.html", context)


def choose_starter(request: HttpRequest) -> HttpResponse:
    """Choosing one puts what it is made of into the catalogue, then opens the form."""
    if request.method == "POST":
        starter = _starter(request.POST.get("starter", ""))
        try:
            services.prepare_starter(organisation=request.organisation, user=request.user, starter=starter)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
            return redirect("sites:house-new")
        return redirect(_with_site(reverse("sites:house-create", args=[starter.slug]), request.POST.get("site", "")))
    other = other_units(request.organisation)
    in_other = request.GET.get("units") == other.value
    units = other.value if in_other else request.organisation.unit_system
    context = {
        "starters": starter_drawings(organisation=request.organisation, units=units),
        "person": person_text(request.organisation.unit_system),
        "own": houses_to_copy(organisation=request.organisation, most=MAX_LIKE),
        "other": other,
        "in_other": in_other,
        "site": request.GET.get("site", ""),
        "no_recipes": not recipes_of(organisation=request.organisation).exists(),
        "no_sites": not sites_of(organisation=request.organisation).exists(),
    }
    return render(request, "sites/starters.html", context)


def _with_site(address: str, site: str) -> str:
    return f"{address}?{urlencode({'site': site})}" if site else address


def _starter(slug: str) -> Starter:
    starter = starter_named(slug)
    if starter is None:
        raise Http404("There is no such starter.")
    return starter


def create(request: HttpRequest, starter: str) -> HttpResponse:
    chosen = _starter(starter)
    initial = starter_values(organisation=request.organisation, starter=chosen)
    if initial is None and request.method != "POST":
        return redirect("sites:house-new")
    return _new_house(request, initial or {}, {"starter": shown_starter(chosen)})


def create_like(request: HttpRequest, slug: str) -> HttpResponse:
    """A new house that begins with the whole spec of another."""
    house = _house(request, slug)
    name = numbered_on(house.name, 2, house_names(house.site))[1]
    initial = values_like(house) | {"site": house.site, "name": name, "need_date": house.need_date}
    return _new_house(request, initial, {"like": house}, like=house)


def _new_house(
    request: HttpRequest, initial: dict[str, Any], more: dict[str, Any], like: House | None = None
) -> HttpResponse:
    if slug := request.GET.get("site"):
        initial["site"] = get_object_or_none(sites_of(organisation=request.organisation), slug=slug)
    form = HouseForm(request.POST or None, initial=initial, organisation=request.organisation)
    rows = _own_rows_form(request, form, like)
    if both_right(form, rows, request):
        try:
            house = services.create_house(
                organisation=request.organisation,
                user=request.user,
                site=form.cleaned_data["site"],
                name=form.cleaned_data["name"],
                need_date=form.cleaned_data["need_date"],
                data=form.cleaned_data,
                own_rows=rows.values() if rows.is_bound else (),
            )
        except ValidationError as error:
            add_row_errors(form, rows, error)
        else:
            messages.success(request, gettext("%(house_name)s is on the list.") % {"house_name": house.name})
            return redirect(house)
    context = {"form": form} | shown_form(request, form, rows, reverse("sites:house-draw-new")) | more
    return render(request, "sites/house_form.html", context)


def _draw(request: HttpRequest, house: House | None) -> JsonResponse:
    """The house as typed so far, for the page that it is typed on; nothing is stored."""
    form = HouseForm(request.POST, instance=house, organisation=request.organisation)
    rows = _own_rows_form(request, form, house)
    picture = picture_of(form, rows)
    folded = folded_form(form, rows, picture.problems)
    context = {"picture": picture}
    return JsonResponse(
        {
            "views": render_to_string("sites/house_views.html", context) if picture.views else None,
            "facts": render_to_string("sites/house_facts.html", context),
            "more": render_to_string("sites/house_facts_more.html", context),
            "lines": folded.lines,
            "wrong": folded.wrong,
            "problems": picture.told,
        }
    )


@own_transactions
@require_POST
def draw_new(request: HttpRequest) -> JsonResponse:
    return _draw(request, None)


@own_transactions
@require_POST
def draw(request: HttpRequest, slug: str) -> JsonResponse:
    return _draw(request, _house(request, slug))


def _own_rows_form(request: HttpRequest, form: HouseForm, house: House | None = None) -> OwnRows:
    """As sent; a page that was opened before houses had rows of their own sends none."""
    sent = request.POST if "rows-TOTAL_FORMS" in request.POST else None
    more = MORE in request.POST
    return own_rows_form(sent, organisation=request.organisation, house=house, more=more, shared=form.shared)


def show(request: HttpRequest, slug: str) -> HttpResponse:
    with Answers(request) as answers:
        answers.read()
        house = house_alone(organisation=request.organisation, slug=slug)
        if house is None:
            raise Http404("No house is called so.")
        whole = cache(lambda: _house(request, slug))
        found = answers.get("house", lambda: _house_shown(answers, whole()), house)
        outdated = answers.get("house outdated", lambda: outdated_of(house=whole()), house)
    context = {"house": house, "outdated": [] if _was_told(request) else outdated}
    return render(request, "sites/house.html", context | found)


def _house_shown(answers: Answers, house: House) -> dict[str, Any]:
    """``page``: whether it can be built, and how it stands in a sentence; where it stands, and its sheet."""
    organisation = answers.organisation
    page = house_page(house, organisation=organisation)
    phase = phases_of(organisation=organisation, houses=[house.pk]).get(house.pk)
    stands = {
        "phase": phase,
        # Of a house that nothing was planned for, all is still to find.
        "balance": materials_balance_of(house=house) if phase else None,
        "place": place_words(house, organisation.unit_system),
    }
    shape = page.shape
    return {
        "cannot_be_built": bool(page.problems),
        "hoops": shape and shape.hoops,
        "spacing": shape and shape.spacing,
        "stands": answers.shown("sites/house_stands.html", house=house, **stands),
        "sheet": answers.shown("sites/house_sheet.html", house=house, page=page),
    }


def tell_saved(request: HttpRequest, house: House) -> None:
    """That it is saved, and what was made of it as it was."""
    messages.success(request, gettext("%(house_name)s is saved.") % {"house_name": house.name})
    if rows := outdated_of(house=house):
        messages.warning(request, format_html("No longer as it is: {}.", outdated_words(rows)), extra_tags=TOLD)


def _was_told(request: HttpRequest) -> bool:
    """Whether the message above the page says it already."""
    waiting = messages.get_messages(request)
    told = any(TOLD in message.tags for message in waiting)
    waiting.used = False
    return told


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    return _save_edited(request, slug) if request.method == "POST" else _open_form(request, slug)


def _open_form(request: HttpRequest, slug: str) -> HttpResponse:
    with Answers(request) as answers:
        answers.read()
        house = _house(request, slug)
        found = answers.get("house form", lambda: _form_of(request, house), house)
    return render(request, "sites/house_form.html", {"house": house, "name": house.name} | found)


def _form_of(request: HttpRequest, house: House) -> dict[str, Any]:
    form = HouseForm(instance=house, organisation=request.organisation)
    rows = _own_rows_form(request, form, house)
    return shown_form(request, form, rows, reverse("sites:house-draw", args=[house.slug]))


def _save_edited(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    name = house.name
    form = HouseForm(request.POST, instance=house, organisation=request.organisation)
    rows = _own_rows_form(request, form, house)
    conflict = None
    if both_right(form, rows, request):
        try:
            with transaction.atomic():
                refuse_if_changed(form)
                house = services.save_house(
                    organisation=request.organisation,
                    user=request.user,
                    house=house,
                    data=form.cleaned_data,
                    own_rows=rows.values() if rows.is_bound else None,
                )
        except EditConflict as error:
            conflict, rows = error, form.rows or rows
        except ValidationError as error:
            add_row_errors(form, rows, error)
        else:
            tell_saved(request, house)
            return redirect(house)
    context = shown_form(request, form, rows, reverse("sites:house-draw", args=[slug]))
    context |= {"form": form, "house": house, "name": name, "conflict": conflict}
    return render(request, "sites/house_form.html", context, status=409 if conflict else 200)


def copy(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    initial = {
        "site": house.site,
        "name": numbered_on(house.name, 2, house_names(house.site))[1],
        "need_date": house.need_date,
    }
    form = CopyHouseForm(request.POST or None, initial=initial, organisation=request.organisation)
    if form.is_valid():
        try:
            made = services.copy_house(
                organisation=request.organisation, user=request.user, house=house, **form.cleaned_data
            )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, gettext("Copied: %(value)s.") % {"value": ", ".join(row.name for row in made)})
            return redirect(made[0]) if len(made) == 1 else redirect("sites:houses")
    return render(request, "sites/house_copy.html", {"form": form, "house": house})


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    return run_action(
        request,
        lambda: services.archive_house(organisation=request.organisation, user=request.user, house=house),
        message=gettext("%(house)s is archived.") % {"house": house},
        redirect_to="sites:houses",
        refused_redirect_to=house,
    )


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    return run_action(
        request,
        lambda: services.bring_back_house(organisation=request.organisation, user=request.user, house=house),
        message=gettext("%(house)s is back.") % {"house": house},
        redirect_to=house,
    )
