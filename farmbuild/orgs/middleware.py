"""Each signed-in request carries its user's organisation and goes by its clock and its decimal sign.

One of a visitor carries none and reaches few pages.
"""

from collections.abc import Callable

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from farmbuild.measure import POINT, activate_style, use_style
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.numbers import style_of
from farmbuild.orgs.selectors import organisation_of
from farmbuild.orgs.visitors import restrict_visitor


def current_organisation(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        # What a page activates ends with its request: the next one of this thread may be of others.
        with timezone.override(None), use_style(POINT):
            return get_response(request)

    def process_view(request: HttpRequest, view: Callable, args: tuple, kwargs: dict) -> HttpResponse | None:
        if not request.user.is_authenticated:
            return None
        if request.user.visitor:
            request.organisation = None
            return restrict_visitor(request)
        request.organisation = organisation_of(user=request.user)
        if request.organisation:
            timezone.activate(zone_of(organisation=request.organisation))
            activate_style(style_of(organisation=request.organisation))
        outside = request.resolver_match.namespace == "admin" or request.resolver_match.url_name == "sign-out"
        if request.organisation is None and not outside:
            raise PermissionDenied(
                "Your sign-in belongs to no organisation yet. Ask whoever runs the server to add you."
            )
        return None

    middleware.process_view = process_view
    return middleware
