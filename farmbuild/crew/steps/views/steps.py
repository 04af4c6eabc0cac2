"""Pages of work templates, rates, and the work of a house."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, actor_kwargs, get_object_or_none, run_action, save_form
from farmbuild.common.speaking import said_count
from farmbuild.crew.hours.presenters import other_work_at
from farmbuild.crew.models import Kind, WorkTemplate
from farmbuild.crew.steps import services
from farmbuild.crew.steps.forms import HouseWorkForm, RatesForm
from farmbuild.crew.steps.presenters import house_work_page, not_among, step_rows
from farmbuild.crew.steps.selectors import rates_of, spreads_of, steps_of, tasks_off_rates, templates_of, work_for
from farmbuild.crew.steps.tables import StepTable, TaskTable, TemplateTable
from farmbuild.crew.steps.template_form import TemplateForm
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.selectors import any_house_of


def _template(request: HttpRequest, slug: str) -> WorkTemplate:
    return get_object_or_404(templates_of(organisation=request.organisation), slug=slug)


class TemplateList(OrgList):
    table_class = TemplateTable
    template_name = "crew/steps/templates.html"
    rows = templates_of


def new_template(request: HttpRequest) -> HttpResponse:
    """Begins as the usual steps of a house."""
    steps = services.standard_steps(organisation=request.organisation)
    form = TemplateForm(request.POST or None, organisation=request.organisation, steps=steps)
    answer = save_form(
        request,
        form,
        lambda data: services.save_template(**actor_kwargs(request), name=data["name"], steps=data["steps"]),
        message=gettext("{} is on the list."),
        redirect_to="crew:templates",
    )
    return answer or render(request, "crew/steps/template_form.html", {"form": form})


def template(request: HttpRequest, slug: str) -> HttpResponse:
    row = _template(request, slug)
    steps = step_rows(row)
    context = {
        "template": row,
        "steps": StepTable(steps, organisation=request.organisation),
        "kinds": [step.kind for step in steps],
        "missing": not_among(step.kind for step in steps),
    }
    return render(request, "crew/steps/template.html", context)


def edit_template(request: HttpRequest, slug: str) -> HttpResponse:
    row = _template(request, slug)
    name = row.name
    steps = [
        services.Step(
            kind=step.kind,
            people=step.people,
            skill=step.skill,
            waits=tuple((after.after.kind, after.lag_minutes) for after in step.afters.all()),
        )
        for step in steps_of(template=row)
    ]
    form = TemplateForm(request.POST or None, organisation=request.organisation, name=name, steps=steps)
    answer = save_form(
        request,
        form,
        lambda data: services.save_template(
            **actor_kwargs(request), name=data["name"], steps=data["steps"], template=row
        ),
        message=gettext("{} is saved. Tasks that are made already stay until they are made again."),
        redirect_to=reverse("crew:template", args=[row.slug]),
    )
    return answer or render(request, "crew/steps/template_form.html", {"form": form, "template": row, "name": name})


@require_POST
def remove_template(request: HttpRequest, slug: str) -> HttpResponse:
    row = _template(request, slug)
    return run_action(
        request,
        lambda: services.remove_template(**actor_kwargs(request), template=row),
        message=gettext("%(row)s is removed.") % {"row": row.name},
        redirect_to="crew:templates",
        refused_redirect_to=reverse("crew:template", args=[row.slug]),
    )


def rates(request: HttpRequest) -> HttpResponse:
    """A button of a row puts the recorded median into its boxes; all that was typed is saved with it."""
    organisation = request.organisation
    given = {"rates": rates_of(organisation=organisation), "spreads": spreads_of(organisation=organisation)}
    form = RatesForm(request.POST or None, organisation=organisation, **given)
    answer = save_form(
        request,
        form,
        lambda data: services.save_rates(**actor_kwargs(request), rates=data["rates"]),
        message=gettext("The rates are saved."),
        redirect_to="crew:rates",
    )
    context = {
        "form": form,
        "recorded": len(given["spreads"]),
        "kinds": len(Kind.values),
        "off": len(tasks_off_rates(organisation=organisation)),
    }
    return answer or render(request, "crew/steps/rates.html", context)


@require_POST
def use_rates(request: HttpRequest) -> HttpResponse:
    changed = services.use_rates(**actor_kwargs(request))
    messages.success(
        request,
        gettext("Changed: %(tasks)s. Work out the schedule again to see what moves.")
        % {"tasks": said_count(changed, "task")},
    )
    return redirect("crew:rates")


def house_work(request: HttpRequest, slug: str) -> HttpResponse:
    organisation = request.organisation
    house = house_or_404(organisation=organisation, slug=slug)
    instance = work_for(house=house)
    work, chosen = instance if instance.pk else None, instance.template if instance.template_id else None
    form = HouseWorkForm(request.POST or None, instance=instance, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: said_count(len(services.plan_house(**actor_kwargs(request), house=house, **data)), "task"),
        message=gettext("Made: {}."),
        redirect_to=reverse("crew:house-work", args=[house.slug]),
    )
    if answer:
        return answer
    page = house_work_page(house, chosen) if chosen else None
    context = {
        "house": house,
        "form": form,
        "work": work,
        "template": chosen,
        "page": page,
        "tasks": page and TaskTable(page.rows, organisation=organisation),
        "other": other_work_at(house=house),
    }
    return render(request, "crew/steps/house.html", context)


@require_POST
def add_standard(request: HttpRequest) -> HttpResponse:
    """For an organisation without a template; back to the house whose page asked for it."""
    house = get_object_or_none(any_house_of(organisation=request.organisation), slug=request.POST.get("house"))
    return run_action(
        request,
        lambda: services.standard_template(**actor_kwargs(request)),
        message=gettext("The shipped steps are there. Change whom they take and what waits for what."),
        redirect_to=reverse("crew:house-work", args=[house.slug]) if house else "crew:templates",
    )
