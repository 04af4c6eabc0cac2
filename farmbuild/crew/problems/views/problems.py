"""Problems over all houses, one problem, and its photos."""

from __future__ import annotations

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response, patch_cache_control
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from farmbuild.common.pages import ROWS, actor_kwargs, save_form
from farmbuild.common.paging import paged
from farmbuild.crew.models import Actual, ProblemPhoto
from farmbuild.crew.problems import selectors, services
from farmbuild.crew.problems.forms import AddPhotosForm, RemovePhotoForm, ResolveForm
from farmbuild.crew.problems.tables import ProblemTable
from farmbuild.crew.problems.words import added_words, alt_of, count_words, gone_words, name_of, who_of
from farmbuild.orgs.clock import zone_of


@require_GET
def problems(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    settled = request.GET.get("settled") == "1"
    rows = selectors.settled_problems_of if settled else selectors.open_problems_of
    table = ProblemTable(rows(organisation=organisation))
    paged(request, table, rows=ROWS)
    context = {
        "table": table,
        "settled": settled,
        "count": table.paginator.count,
        "zone": zone_of(organisation=organisation),
    }
    return render(request, "crew/problems/problems.html", context)


def _problem(request: HttpRequest, pk: int) -> Actual:
    return get_object_or_404(selectors.problems_of(organisation=request.organisation), pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def problem(request: HttpRequest, pk: int) -> HttpResponse:
    """One problem; posting says how it was put right."""
    organisation = request.organisation
    found = _problem(request, pk)
    form = ResolveForm(request.POST or None, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.resolve(organisation=organisation, user=request.user, actual=found, how=data["how"]),
        message=gettext("The problem is corrected."),
        redirect_to="crew:problems",
    )
    return answer or _problem_page(request, found, form, AddPhotosForm(organisation=organisation))


@require_POST
def add_photos(request: HttpRequest, pk: int) -> HttpResponse:
    organisation = request.organisation
    found = _problem(request, pk)
    form = AddPhotosForm(request.POST, request.FILES, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.add_photos(**actor_kwargs(request), actual=found, pictures=data["photos"]),
        message=gettext("Photos added: {}."),
        redirect_to=reverse("crew:problem", args=[pk]),
    )
    return answer or _problem_page(request, _problem(request, pk), ResolveForm(organisation=organisation), form)


def _problem_page(request: HttpRequest, found: Actual, form: ResolveForm, photos: AddPhotosForm) -> HttpResponse:
    settled = getattr(found, "settled", None)
    if settled:
        _errors_above(request, form)
    context = {
        "problem": found,
        "who": who_of(found),
        "count": count_words(found),
        "form": None if settled else form,
        "photo_form": photos if services.room_for_photos(actual=found) else None,
        "settled": settled,
        "settled_by": name_of(settled.by) if settled else "",
        "zone": zone_of(organisation=request.organisation),
    }
    if context["photo_form"] is None:
        for words in photos.errors.get("photos", ()):
            messages.error(request, words)
    return render(request, "crew/problems/problem.html", context)


def _errors_above(request: HttpRequest, form: BaseForm) -> None:
    """Why it was refused, where the form is not on the page."""
    for words in form.non_field_errors():
        messages.error(request, words)


def _photo(request: HttpRequest, pk: int) -> ProblemPhoto:
    return get_object_or_404(selectors.photos_of(organisation=request.organisation), pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def photo(request: HttpRequest, pk: int) -> HttpResponse:
    """The whole photo on a page; posting takes it away."""
    found = _photo(request, pk)
    form = RemovePhotoForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.remove_photo(
            organisation=request.organisation, user=request.user, photo=found, reason=data["reason"]
        ),
        message=gettext("The photo is removed."),
        redirect_to=reverse("crew:problem", args=[found.actual_id]),
    )
    may = services.may_remove_photo(user=request.user, photo=found)
    if not may:
        _errors_above(request, form)
    zone = zone_of(organisation=request.organisation)
    with timezone.override(zone):
        words = {
            "alt": alt_of(found, found.actual, among=found.actual.photos.count()),
            "gone": gone_words(found),
            "added": added_words(found),
        }
    context = words | {
        "photo": found,
        "problem": found.actual,
        "zone": zone,
        "form": form if may else None,
    }
    return answer or render(request, "crew/problems/photo.html", context)


@require_safe
def picture(request: HttpRequest, pk: int, small: bool) -> HttpResponseBase:
    """JPEG bytes, kept by nobody but the browser, which asks each time whether it may still show them."""
    found = _photo(request, pk)
    if found.removed_at:
        raise Http404
    etag = f'"{found.sha256}{"-small" if small else ""}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        try:
            answer = HttpResponse(selectors.bytes_of(photo=found, small=small), content_type="image/jpeg")
        except selectors.PhotoChanged as error:
            return HttpResponse(str(error), status=500, content_type="text/plain; charset=utf-8")
        answer.headers["Content-Disposition"] = f'inline; filename="problem-{found.actual_id}-{found.position}.jpg"'
    answer.headers["ETag"] = etag
    answer.headers["X-Content-Type-Options"] = "nosniff"
    patch_cache_control(answer, private=True, no_cache=True)
    return answer
