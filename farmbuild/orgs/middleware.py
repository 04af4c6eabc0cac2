"""The organisation stands in the address: each signed-in request carries it and goes by its clock and decimal sign,
and by the language and units of its reader.

A visitor's request carries none and reaches few pages.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.db import OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import set_script_prefix
from django.utils import timezone, translation
from django.utils.cache import patch_vary_headers

from farmbuild.common.reading import choose_units, use_units
from farmbuild.measure import POINT, activate_style, use_amounts, use_style
from farmbuild.orgs.acts import acts_given
from farmbuild.orgs.addresses import (
    OF_A_PERSON,
    OUTSIDE,
    address_within,
    mounted_at,
    prefix_in_force,
    prefix_of,
    split_address,
)
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.gatekeeper import check_gate
from farmbuild.orgs.languages import asked_by_browser, language_of
from farmbuild.orgs.models import Membership
from farmbuild.orgs.numbers import style_of
from farmbuild.orgs.selectors import last_used, memberships_of
from farmbuild.orgs.services import note_use
from farmbuild.orgs.views.choosing import answer_bare_press, lead_on
from farmbuild.orgs.visitors import restrict_visitor

READS = ("GET", "HEAD")
Handler = Callable[[HttpRequest], HttpResponse]


def organisation_in_address(get_response: Handler) -> Handler:
    """Takes /of/SLUG off what Django looks up; ``request.path`` stays whole, ``request.slug`` is "" where it has none.

    Whose it is, is known only once somebody has signed in: until then addresses are written without it.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        mounted = request.path.removesuffix(request.path_info).rstrip("/")
        request.slug, rest = split_address(request.path_info)
        if request.slug and rest is None:
            return redirect(f"{request.path}/")
        if request.slug:
            request.path_info = rest
        # What a page sets ends with its request: the next one of this thread may be of others.
        with prefix_in_force(f"{mounted}/"):
            return get_response(request)

    return middleware


def current_organisation(get_response: Handler) -> Handler:
    def middleware(request: HttpRequest) -> HttpResponse:
        # What a page activates ends with its request: the next one of this thread may be of others.
        # Programs read one wording, whoever asks by them.
        by_program = getattr(request, "for_a_program", False)
        language = settings.LANGUAGE_CODE if by_program else asked_by_browser(request)
        with (
            timezone.override(None),
            use_style(POINT),
            use_amounts(True),
            use_units(""),
            translation.override(language),
        ):
            response = get_response(request)
            # Of somebody who signed in, what was kept by their browser is theirs.
            patch_vary_headers(response, ["Accept-Language"])
            response.headers.setdefault("Content-Language", translation.get_language())
            return response

    def process_view(request: HttpRequest, view: Callable, args: tuple, kwargs: dict) -> HttpResponse | None:
        match = request.resolver_match
        of_a_person = match.view_name in OF_A_PERSON or match.namespace == "guide"
        outside = not of_a_person and (
            match.namespace == "admin" or match.view_name in OUTSIDE or not getattr(view, "login_required", True)
        )
        signed_in = request.user.is_authenticated
        if request.slug and request.method in READS and (outside or not signed_in):
            return redirect(f"{mounted_at()[:-1]}{address_within(request)}")
        if not signed_in:
            return None
        if request.user.visitor:
            if request.slug:
                raise Http404("Visitors are of no organisation.")
            request.organisation = None
            _speak_to(request)
            return restrict_visitor(request)
        request.memberships = memberships_of(user=request.user)
        membership = last_used(request.memberships)
        if outside:
            _go_by(request, membership)
        elif request.slug:
            membership = next((row for row in request.memberships if row.organisation.slug == request.slug), None)
            if membership is None:
                raise Http404("No organisation of this person is called so.")
            _go_by(request, membership)
            set_script_prefix(prefix_of(request.slug))
            if request.method in READS:
                _note_use(request, membership)
        elif of_a_person:
            _go_by(request, membership)
            if membership:
                set_script_prefix(prefix_of(membership.organisation.slug))
        elif not request.memberships:
            _go_by(request, None)
            raise PermissionDenied(
                "Your sign-in belongs to no organisation yet. Ask whoever runs the server to add you."
            )
        elif request.method in READS:
            return lead_on(request, membership)
        else:
            return answer_bare_press(request)
        check_gate(request)
        return None

    middleware.process_view = process_view
    return middleware


def _go_by(request: HttpRequest, membership: Membership | None) -> None:
    request.membership = membership
    request.organisation = membership.organisation if membership else None
    request.acts = frozenset()
    _speak_to(request)
    if membership:
        request.acts = acts_given(role=membership.role, without=membership.without, also=membership.also)
        timezone.activate(zone_of(organisation=membership.organisation))
        activate_style(style_of(organisation=membership.organisation))


def _speak_to(request: HttpRequest) -> None:
    choose_units(request.user.units)
    if chosen := language_of(user=request.user, organisation=request.organisation):
        translation.activate(chosen)


def _note_use(request: HttpRequest, membership: Membership) -> None:
    """A person of one organisation has nothing to remember; a busy database is no reason to show no page."""
    if len(request.memberships) > 1 and last_used(request.memberships) != membership:
        with contextlib.suppress(OperationalError):
            note_use(membership=membership)
