"""Pages of people."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.access.views.invitations import hand_over
from farmbuild.common.pages import ROWS, OrgList, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.crew.models import Person
from farmbuild.crew.people import services
from farmbuild.crew.people.forms import PersonForm
from farmbuild.crew.people.selectors import any_person_of, coming_days_off_of, crews_of, people_without_work
from farmbuild.crew.people.signins import invite_person
from farmbuild.crew.people.tables import DayOffTable, PersonTable


def _person(request: HttpRequest, slug: str) -> Person:
    return get_object_or_404(any_person_of(organisation=request.organisation), slug=slug)


class PersonList(OrgList):
    table_class = PersonTable
    template_name = "crew/people/people.html"
    rows = any_person_of
    archives = True

    def get_context_data(self, **kwargs):
        organisation = self.request.organisation
        return super().get_context_data(**kwargs) | {
            "crews": crews_of(organisation=organisation).count(),
            "loose": people_without_work(organisation=organisation).count(),
        }


def create(request: HttpRequest) -> HttpResponse:
    form = PersonForm(
        request.POST or None, organisation=request.organisation, initial={"crew": request.GET.get("crew")}
    )
    answer = save_form(
        request,
        form,
        lambda data: services.create_person(**actor_kwargs(request), data=data),
        message=gettext("{} is on the list."),
    )
    return answer or render(request, "crew/people/person_form.html", {"form": form})


def show(request: HttpRequest, slug: str) -> HttpResponse:
    person = _person(request, slug)
    off = coming_days_off_of(organisation=request.organisation, person=person)
    own = DayOffTable(off, organisation=request.organisation, exclude=("who",), orderable=False, prefix="off-")
    paged(request, own, rows=ROWS)
    context = {"person": person, "off": own, "skills": list(person.skills.all())}
    return render(request, "crew/people/person.html", context)


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    person = _person(request, slug)
    name = person.name
    form = PersonForm(request.POST or None, instance=person, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_person(**actor_kwargs(request), person=person, data=data),
        message=gettext("{} is saved."),
    )
    return answer or render(request, "crew/people/person_form.html", {"form": form, "person": person, "name": name})


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    person = _person(request, slug)
    return run_action(
        request,
        lambda: services.archive_person(**actor_kwargs(request), person=person),
        message=gettext("%(person)s is archived, and counts for no crew.") % {"person": person},
        redirect_to="crew:people",
    )


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    person = _person(request, slug)
    return run_action(
        request,
        lambda: services.bring_back_person(**actor_kwargs(request), person=person),
        message=gettext("%(person)s is back.") % {"person": person},
        redirect_to=person,
    )


@require_POST
def invite(request: HttpRequest, slug: str) -> HttpResponse:
    """On to the page with link and card."""
    person = _person(request, slug)
    try:
        return hand_over(request, invite_person(**actor_kwargs(request), person=person))
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(person)
