"""In which language a page is: its reader's, else the organisation's, else what the browser asks for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils import translation

from farmbuild.common.reading import use_units
from farmbuild.orgs.models import Organisation


def language_of(*, user: Any, organisation: Organisation | None) -> str:
    """ "" where neither has chosen one."""
    return user.language or (organisation.language if organisation else "")


def asked_by_browser(request: HttpRequest) -> str:
    return translation.get_language_from_request(request)


def shared_language(organisation: Organisation) -> str:
    """Of what several people read: labels, calendars, files, what is kept as it was said."""
    return organisation.language or settings.LANGUAGE_CODE


def in_language_of(user: Any, organisation: Organisation | None = None) -> AbstractContextManager[None]:
    """For what is sent to somebody who opens no page for it."""
    return translation.override(language_of(user=user, organisation=organisation) or settings.LANGUAGE_CODE)


def in_shared_language(organisation: Organisation) -> AbstractContextManager[None]:
    return translation.override(shared_language(organisation))


@contextmanager
def as_shared(organisation: Organisation) -> Iterator[None]:
    """Inside it words and lengths are those of the organisation, whoever asked for them."""
    with in_shared_language(organisation), use_units(""):
        yield
