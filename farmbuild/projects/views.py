"""Pages of the project workbook: out of the site, and into it, seen first."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from farmbuild.common.pages import get_object_or_none
from farmbuild.orgs.acts import Act, may
from farmbuild.orgs.clock import today_of
from farmbuild.projects import services
from farmbuild.projects.bridge import project_workbook
from farmbuild.projects.forms import ProjectForm
from farmbuild.projects.selectors import drafts_of
from farmbuild.projects.words import done_words, file_name, template_of
from farmbuild.sites.selectors import houses_asked, houses_of, sites_of
from farmbuild.workbooks.services import XLSX


def project(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = ProjectForm(*sent, organisation=organisation)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            draft = services.make_draft(
                organisation=organisation, user=request.user, data=file.read(), filename=file.name
            )
        except services.WorkbookError as error:
            form.add_error("file", str(error))
        else:
            return redirect("projects:preview", draft.pk)
    context = {
        "form": form,
        "may_read": may(organisation=organisation, user=request.user, act=Act.PLAN),
        "sites": sites_of(organisation=organisation),
    }
    return render(request, "projects/project.html", context)


def preview(request: HttpRequest, pk: int) -> HttpResponse:
    draft = get_object_or_404(drafts_of(organisation=request.organisation, user=request.user), pk=pk)
    return render(request, "projects/preview.html", {"draft": draft, **draft.shown})


@require_POST
def store(request: HttpRequest, pk: int) -> HttpResponse:
    organisation, user = request.organisation, request.user
    draft = get_object_or_none(drafts_of(organisation=organisation, user=user), pk=pk)
    try:
        if draft is None:
            raise ValidationError(services.GONE)
        done, shown = services.store_draft(organisation=organisation, user=user, draft=draft)
    except ValidationError as error:
        messages.error(request, error.messages[0])
        return redirect("projects:project")
    if not done:
        messages.error(request, services.CHANGED)
        return redirect("projects:preview", pk)
    messages.success(request, done_words(shown, draft.filename))
    return redirect("sites:houses")


def workbook(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    site, house = request.GET.get("site", ""), request.GET.get("house", "")
    chosen = houses_asked(houses_of(organisation=organisation), site=site, house=house) if site or house else None
    try:
        data = project_workbook(organisation=organisation, as_of=today_of(organisation=organisation), houses=chosen)
    except ValidationError as error:
        messages.error(request, error.messages[0])
        return redirect("projects:project")
    return _download(data, file_name(organisation, site or house))


def template(request: HttpRequest) -> HttpResponse:
    return _download(template_of(request.organisation), "project-template.xlsx")


def _download(data: bytes, name: str) -> HttpResponse:
    return HttpResponse(data, content_type=XLSX, headers={"Content-Disposition": f'attachment; filename="{name}"'})
