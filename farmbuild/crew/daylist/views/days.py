"""The list of a day and its presses."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urlencode

import django_tables2 as tables
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.form_parts import add_service_errors, error_words
from farmbuild.common.pages import ROWS, actor_kwargs, get_object_or_none, parse_day, run_action
from farmbuild.common.paging import paged
from farmbuild.crew import feeds
from farmbuild.crew.actuals import services, taking_back
from farmbuild.crew.actuals.forms import TickForm
from farmbuild.crew.actuals.presenters import unit_of
from farmbuild.crew.actuals.selectors import presses_of
from farmbuild.crew.actuals.words import press_words
from farmbuild.crew.daylist.presenters import day_page
from farmbuild.crew.models import Person, Task
from farmbuild.crew.people.selectors import any_person_of, people_of, person_of
from farmbuild.crew.people.tables import PersonTable
from farmbuild.crew.schedule.selectors import tasks_of
from farmbuild.orgs.clock import today_of


class WhoTable(PersonTable):
    skills = tables.Column(visible=False)

    def row_link(self, record: Any) -> str:
        return f"{reverse('crew:day')}?person={record.slug}"


@require_GET
def show(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    if slug := request.GET.get("person"):
        person = get_object_or_404(people_of(organisation=organisation), slug=slug)
    else:
        person = person_of(organisation=organisation, user=request.user)
    if person is None or "who" in request.GET:
        table = WhoTable(people_of(organisation=organisation), organisation=organisation)
        paged(request, table, rows=ROWS)
        return render(request, "crew/daylist/who.html", {"table": table})
    day = parse_day(request.GET.get("day", "")) or today_of(organisation=organisation)
    return render(request, "crew/daylist/day.html", day_page(request, person, day))


@require_http_methods(["GET", "POST"])
def tick(request: HttpRequest, pk: int) -> HttpResponse:
    """One press. A browser that sends it in the background gets JSON; the key makes sending it again harmless."""
    if request.method == "GET":
        # Signed in again on the way, or loaded again after a mistake.
        return redirect("crew:day")
    organisation = request.organisation
    task = get_object_or_404(tasks_of(organisation=organisation), pk=pk)
    form = TickForm(request.POST, request.FILES, task=task, unit=unit_of(task))
    person = None
    if form.is_valid():
        data = form.cleaned_data
        if data["person"]:
            person = get_object_or_404(any_person_of(organisation=organisation), slug=data["person"])
        try:
            services.record(
                organisation=organisation,
                user=request.user,
                task=task,
                person=person,
                key=data["key"],
                what=data["what"],
                at=data["at"] or timezone.now(),
                done=data["done"],
                people=data["people"],
                minutes=data["minutes"],
                day=_past_day(request),
                problem=data["problem"],
                pictures=data["photos"],
            )
        except ValidationError as error:
            add_service_errors(form, error, minutes="hours")
    if not request.accepts("text/html"):
        return _json_answer(form, request.POST.get("key", ""))
    if form.errors:
        return _page_with_errors(request, task, form)
    messages.success(
        request, gettext("Kept: %(task)s, %(what)s.") % {"task": task, "what": gettext(form.cleaned_data["what"])}
    )
    if request.POST.get("back") == "task":
        return redirect("crew:task", pk=pk)
    back = {"person": person.slug} if person else {}
    if day := parse_day(request.POST.get("day", "")):
        back["day"] = day.isoformat()
    return redirect(f"{reverse('crew:day')}?{urlencode(back)}")


def _past_day(request: HttpRequest) -> date | None:
    """The day of the list on which hours are typed, once it is there."""
    day = parse_day(request.POST.get("day", ""))
    return day if day and day <= today_of(organisation=request.organisation) else None


def _json_answer(form: TickForm, key: str) -> JsonResponse:
    if not form.errors:
        return JsonResponse({"key": key, "kept": True})
    fields = {name: " ".join(errors) for name, errors in form.errors.items() if name in form.fields}
    return JsonResponse({"key": key, "kept": False, "problem": error_words(form), "fields": fields}, status=422)


def _page_with_errors(request: HttpRequest, task: Task, form: TickForm) -> HttpResponse:
    """The list with what was typed and what to put right; where the task is not on it any more, the words alone."""
    organisation = request.organisation
    if request.POST.get("back") == "task":
        messages.error(request, error_words(form))
        return redirect("crew:task", pk=task.pk)
    person = get_object_or_none(people_of(organisation=organisation), slug=request.POST.get("person"))
    if person is None:
        messages.error(request, error_words(form))
        return redirect("crew:day")
    day = parse_day(request.POST.get("day", "")) or today_of(organisation=organisation)
    context = day_page(request, person, day, typed={task.pk: form})
    if not context["wrong"] or form.non_field_errors() or {"key", "what", "at", "person"} & set(form.errors):
        messages.error(request, error_words(form))
    return render(request, "crew/daylist/day.html", context, status=422)


@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """A press counts no more; back to the day or the task on whose page that was pressed."""
    actual = get_object_or_404(presses_of(organisation=request.organisation), pk=pk)
    person = get_object_or_none(people_of(organisation=request.organisation), slug=request.POST.get("person"))
    back = reverse("crew:task", args=[actual.task_id])
    if person:
        day = parse_day(request.POST.get("day", "")) or today_of(organisation=request.organisation)
        back = f"{reverse('crew:day')}?{urlencode({'person': person.slug, 'day': day.isoformat()})}"
    return run_action(
        request,
        lambda: taking_back.take_back(**actor_kwargs(request), actual=actual, reason=request.POST.get("reason", "")),
        message=gettext("Taken back: %(press)s. Both rows stay in the record.") % {"press": press_words(actual)},
        redirect_to=back,
    )


def _person(request: HttpRequest, slug: str) -> Person:
    return get_object_or_404(people_of(organisation=request.organisation), slug=slug)


@require_GET
def feed(request: HttpRequest, slug: str) -> HttpResponse:
    person = _person(request, slug)
    context = {"person": person, **feeds.shown_of(request, person=person)}
    return feeds.forgotten(render(request, "crew/daylist/feed.html", context))


@require_POST
def make_feed(request: HttpRequest, slug: str) -> HttpResponse:
    made = feeds.make_feed(organisation=request.organisation, user=request.user, person=_person(request, slug))
    return feeds.handed_over(redirect("crew:person-feed", slug), made)


@require_POST
def revoke_feed(request: HttpRequest, slug: str) -> HttpResponse:
    feeds.revoke_feed(organisation=request.organisation, user=request.user, person=_person(request, slug))
    return redirect("crew:person-feed", slug)
