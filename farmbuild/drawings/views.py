"""The drawing set of a house: what is in it, and its files."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext

from farmbuild.drawings.drawing_set import drawing_set
from farmbuild.drawings.pdf import set_pdf
from farmbuild.drawings.presenters import set_page, sheets_for
from farmbuild.drawings.scales import Paper, paper_named
from farmbuild.orgs.languages import as_shared
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.models import House

_DXF = "image/vnd.dxf"


def _house(request: HttpRequest, slug: str) -> House:
    return house_or_404(organisation=request.organisation, slug=slug)


def _paper(request: HttpRequest) -> Paper:
    return paper_named(request.GET.get("paper", ""), request.organisation.unit_system)


def show(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    page = set_page(house, paper=_paper(request), by=request.user.display_name)
    return render(request, "drawings/set.html", {"house": house, "page": page})


def _refused(request: HttpRequest, house: House) -> HttpResponse | None:
    if not spec_problems(house, request.organisation.unit_system):
        return None
    words = gettext("%(name)s cannot be built as it is specified, so it has no drawings yet.")
    messages.error(request, words % {"name": house.name})
    return redirect("drawings:set", house.slug)


def _file(content: bytes, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = f'{"inline" if name.endswith("pdf") else "attachment"}; filename="{name}"'
    return answer


def pdf(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    if refused := _refused(request, house):
        return refused
    asked = request.GET.get("for", "")
    # Several read it: the crew, the supplier, an engineer.
    with as_shared(request.organisation):
        found = sheets_for(drawing_set(house, paper=_paper(request), by=request.user.display_name), asked)
        content = set_pdf(found)
    whose = f"-{asked}" if found.part else ""
    return _file(content, "application/pdf", f"drawings-{house.slug}{whose}.pdf")


def dxf(request: HttpRequest, slug: str) -> HttpResponse:
    # It takes long to load, and few ask for it.
    from farmbuild.drawings.dxf import set_dxf

    house = _house(request, slug)
    if refused := _refused(request, house):
        return refused
    with as_shared(request.organisation):
        found = drawing_set(house, paper=_paper(request), by=request.user.display_name)
        content = set_dxf(found)
    return _file(content, _DXF, f"drawings-{house.slug}.dxf")
