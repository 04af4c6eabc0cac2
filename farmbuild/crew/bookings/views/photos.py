"""Photos and pulls of a bender that came back."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.crew.bookings import photos, services
from farmbuild.crew.bookings.forms import PullsForm
from farmbuild.crew.bookings.photo_words import added_of, alt_of, gone_of, photo_answer
from farmbuild.crew.bookings.selectors import bookings_of
from farmbuild.crew.bookings.words import who
from farmbuild.crew.models import BenderBooking, BookingPhoto
from farmbuild.crew.problems.forms import AddPhotosForm, RemovePhotoForm


def _booking(request: HttpRequest, pk: int) -> BenderBooking:
    return get_object_or_404(bookings_of(organisation=request.organisation), pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest, pk: int) -> HttpResponse:
    """More photos of one that came back."""
    row = _booking(request, pk)
    form = AddPhotosForm(request.POST or None, request.FILES or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: photos.add_photos(**actor_kwargs(request), booking=row, **data),
        message=gettext("Photos added: {}."),
        redirect_to=reverse("crew:booking", args=[pk]),
    )
    context = {"booking": row, "who": who(row), "form": form, "title": gettext("Add photos"), "files": True}
    return answer or render(request, "crew/bookings/back_form.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def pulls(request: HttpRequest, pk: int) -> HttpResponse:
    """How many pulls were made, told later or corrected."""
    row = _booking(request, pk)
    form = PullsForm(request.POST or None, initial={"pulls": row.pulls}, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.set_pulls(**actor_kwargs(request), booking=row, **data),
        message=gettext("The pulls of {} are kept."),
        redirect_to=reverse("crew:booking", args=[pk]),
    )
    context = {"booking": row, "who": who(row), "form": form, "title": gettext("Save the pulls")}
    return answer or render(request, "crew/bookings/back_form.html", context)


def _photo(request: HttpRequest, pk: int) -> BookingPhoto:
    return get_object_or_404(photos.photos_of(organisation=request.organisation), pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def photo(request: HttpRequest, pk: int) -> HttpResponse:
    """The whole photo on a page; posting takes it away."""
    found = _photo(request, pk)
    form = RemovePhotoForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: photos.remove_photo(**actor_kwargs(request), photo=found, reason=data["reason"]),
        message=gettext("The photo is removed."),
        redirect_to=reverse("crew:booking", args=[found.booking_id]),
    )
    words = {"alt": alt_of(found), "gone": gone_of(found), "added": added_of(found)}
    context = words | {"photo": found, "booking": found.booking, "who": who(found.booking), "form": form}
    return answer or render(request, "crew/bookings/photo.html", context)


@require_safe
def picture(request: HttpRequest, pk: int, small: bool) -> HttpResponseBase:
    found = _photo(request, pk)
    if found.removed_at:
        raise Http404
    return photo_answer(request, found, small=small)
