"""The first page of a member: of a visitor's member, or of the farm for which somebody signed in."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from farmbuild.coop.members.presenters import seen_facts
from farmbuild.coop.members.seeing import as_member
from farmbuild.crew.models import Member
from farmbuild.orgs.acts import Act


@require_GET
@as_member
def show(request: HttpRequest, member: Member) -> HttpResponse:
    sees_costs = request.user.visitor or Act.COSTS in request.acts
    return render(request, "coop/members/seen.html", seen_facts(member, sees_costs=sees_costs))
