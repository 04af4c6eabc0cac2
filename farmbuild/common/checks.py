"""What Django's own checks ask of a server besides theirs; ``manage.py start``, ``check`` and ``doctor`` tell it."""

from __future__ import annotations

import logging
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Warning, register

logger = logging.getLogger(__name__)
UNSAID = (
    "FARMBUILD_HOSTS turns https-only on, and FARMBUILD_BEHIND_PROXY does not say whether a web server in front gives"
    " it: without that each page would lead to itself for ever. Say 1 behind one, 0 where the program has https itself."
)


@register
def who_gives_https(**kwargs: Any) -> list[CheckMessage]:
    return [Warning(UNSAID, id="farmbuild.W001")] if settings.PROXY_UNSAID else []


def tell_of_proxy() -> None:
    """At the start of what serves, which asks no checks."""
    if settings.PROXY_UNSAID:
        logger.warning(UNSAID)
