"""Pages of crews, of skills and of what holds for all work."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import ROWS, OrgList, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.crew.models import Crew
from farmbuild.crew.people import services
from farmbuild.crew.people.first_crew import make_first_crew
from farmbuild.crew.people.forms import CrewForm, SettingsForm, SkillForm
from farmbuild.crew.people.selectors import any_crew_of, hours_of, people_in, settings_of, skills_of, weeks_of
from farmbuild.crew.people.tables import CrewTable, PersonTable, SkillTable
from farmbuild.crew.people.words import week_minutes, week_words
from farmbuild.measure import format_minutes


def _crew(request: HttpRequest, slug: str) -> Crew:
    return get_object_or_404(any_crew_of(organisation=request.organisation), slug=slug)


class CrewsList(OrgList):
    table_class = CrewTable
    template_name = "crew/people/crews.html"
    rows = any_crew_of
    archives = True


def create(request: HttpRequest) -> HttpResponse:
    if not weeks_of(organisation=request.organisation).exists():
        messages.info(request, gettext("A crew works by a week. Type its hours first, then add the crew."))
        return redirect("crew:week-new")
    form = CrewForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.create_crew(**actor_kwargs(request), data=data),
        message=gettext("{} is on the list."),
    )
    return answer or render(request, "crew/people/crew_form.html", {"form": form})


@require_POST
def first(request: HttpRequest) -> HttpResponse:
    crew = make_first_crew(organisation=request.organisation, user=request.user)
    messages.success(
        request, gettext("%(crew)s works by its usual week. Change hours and people here.") % {"crew": crew}
    )
    return redirect(crew)


def show(request: HttpRequest, slug: str) -> HttpResponse:
    crew = _crew(request, slug)
    people = PersonTable(people_in(crew=crew), exclude=("crew",))
    paged(request, people, rows=ROWS)
    hours = hours_of(week=crew.week)
    context = {"crew": crew, "people": people, "hours": week_words(hours), "total": format_minutes(week_minutes(hours))}
    return render(request, "crew/people/crew.html", context)


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    crew = _crew(request, slug)
    name = crew.name
    form = CrewForm(request.POST or None, instance=crew, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_crew(**actor_kwargs(request), crew=crew, data=data),
        message=gettext("{} is saved."),
    )
    return answer or render(request, "crew/people/crew_form.html", {"form": form, "crew": crew, "name": name})


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    crew = _crew(request, slug)
    told = [gettext("%(crew)s is archived; no work is planned for it.")]
    if crew.head_count:
        told.append(gettext("Move its people to another crew: %(count)s."))
    return run_action(
        request,
        lambda: services.archive_crew(**actor_kwargs(request), crew=crew),
        message=" ".join(told) % {"crew": crew, "count": crew.head_count},
        redirect_to="crew:crews",
    )


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    crew = _crew(request, slug)
    return run_action(
        request,
        lambda: services.bring_back_crew(**actor_kwargs(request), crew=crew),
        message=gettext("%(crew)s is back.") % {"crew": crew},
        redirect_to=crew,
    )


class SkillList(OrgList):
    table_class = SkillTable
    template_name = "crew/people/skills.html"
    rows = skills_of


def skill(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    row = get_object_or_404(skills_of(organisation=request.organisation), pk=pk) if pk else None
    form = SkillForm(
        request.POST or None, organisation=request.organisation, initial={"name": row.name} if row else None
    )
    answer = save_form(
        request,
        form,
        lambda data: services.save_skill(**actor_kwargs(request), skill=row, **data),
        message=gettext("{} is saved."),
        redirect_to="crew:skills",
    )
    return answer or render(request, "crew/people/skill_form.html", {"form": form, "skill": row})


@require_POST
def remove_skill(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(skills_of(organisation=request.organisation), pk=pk)
    return run_action(
        request,
        lambda: services.remove_skill(**actor_kwargs(request), skill=row),
        message=gettext("%(row)s is removed.") % {"row": row},
        redirect_to="crew:skills",
    )


def settings(request: HttpRequest) -> HttpResponse:
    current = settings_of(organisation=request.organisation)
    form = SettingsForm(request.POST or None, instance=current, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_settings(**actor_kwargs(request), data=data),
        message=gettext("Saved."),
        redirect_to="crew:settings",
    )
    return answer or render(request, "crew/people/settings.html", {"form": form})
