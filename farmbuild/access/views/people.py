"""Pages of the people of an organisation, for whoever may say who does what."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.access import log, people
from farmbuild.access.forms import ActsForm, RoleForm
from farmbuild.access.invitations import open_invitations_of
from farmbuild.access.presenters import entry_lines, person_facts
from farmbuild.access.tables import InvitationTable, PeopleTable
from farmbuild.common.pages import ROWS, actor_kwargs, first_rows, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.measure import count_noun
from farmbuild.orgs.acts import Act, check_may
from farmbuild.orgs.models import Membership
from farmbuild.orgs.password_links import DAYS

LINES = 60


def of_people(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """For whoever may say who does what."""

    @wraps(view)
    def checked(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        check_may(organisation=request.organisation, user=request.user, act=Act.PEOPLE)
        return view(request, *args, **kwargs)

    return checked


@require_GET
@of_people
def show_all(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    table = PeopleTable(people.people_of(organisation=organisation), organisation=organisation)
    invited = InvitationTable(
        open_invitations_of(organisation=organisation), organisation=organisation, prefix="invited-"
    )
    for each in (table, invited):
        paged(request, each, rows=ROWS)
    return render(request, "access/people.html", {"table": table, "invited": invited})


def _person(request: HttpRequest, pk: int) -> Membership:
    return get_object_or_404(people.people_of(organisation=request.organisation), pk=pk)


def _address(person: Membership) -> str:
    return reverse("access:person", args=[person.pk])


@require_GET
@of_people
def show(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "access/person.html", person_facts(_person(request, pk)))


@require_http_methods(["GET", "HEAD", "POST"])
@of_people
def role(request: HttpRequest, pk: int) -> HttpResponse:
    person = _person(request, pk)
    form = RoleForm(
        request.POST or None,
        organisation=request.organisation,
        initial={"role": person.role, "send_limit": person.send_limit},
    )
    answer = save_form(
        request,
        form,
        lambda data: people.set_role(**actor_kwargs(request), person=person, **data).user.display_name,
        message=gettext("{} is saved."),
        redirect_to=_address(person),
    )
    return answer or render(request, "access/role.html", {"form": form, "person": person})


@require_http_methods(["GET", "HEAD", "POST"])
@of_people
def acts(request: HttpRequest, pk: int) -> HttpResponse:
    person = _person(request, pk)
    form = ActsForm(
        request.POST if request.method == "POST" else None,
        organisation=request.organisation,
        initial={"acts": [act.value for act in people.acts_in(person)]},
    )
    answer = save_form(
        request,
        form,
        lambda data: people.set_acts(**actor_kwargs(request), person=person, **data).user.display_name,
        message=gettext("{} is saved."),
        redirect_to=_address(person),
    )
    return answer or render(request, "access/acts.html", {"form": form, "person": person})


@require_http_methods(["GET", "HEAD", "POST"])
@of_people
def out(request: HttpRequest, pk: int) -> HttpResponse:
    person = _person(request, pk)
    if request.method != "POST":
        return render(request, "access/out.html", {"person": person})
    return run_action(
        request,
        lambda: people.take_out(**actor_kwargs(request), person=person),
        message=gettext("%(display_name)s does not belong to %(organisation)s any more.")
        % {"display_name": person.user.display_name, "organisation": request.organisation},
        redirect_to="access:people",
        refused_redirect_to=_address(person),
    )


@require_POST
@of_people
def end(request: HttpRequest, pk: int) -> HttpResponse:
    person = _person(request, pk)
    return run_action(
        request,
        lambda: people.end_sign_ins(**actor_kwargs(request), person=person),
        message=gettext("%(display_name)s is signed out everywhere.") % {"display_name": person.user.display_name},
        redirect_to=_address(person),
    )


@never_cache
@require_POST
@of_people
def link(request: HttpRequest, pk: int) -> HttpResponse:
    """Shown in the answer itself: it is kept nowhere."""
    person = _person(request, pk)
    try:
        path = people.make_password_link(**actor_kwargs(request), person=person)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(_address(person))
    context = {"person": person, "address": request.build_absolute_uri(path), "days": count_noun(DAYS, "day")}
    return render(request, "access/password_link.html", context)


@require_GET
@of_people
def all_log(request: HttpRequest) -> HttpResponse:
    rows, more = first_rows(log.entries_for(organisation=request.organisation), LINES)
    return render(request, "access/people_log.html", {"lines": entry_lines(rows), "more": more})
