"""Forms in what is kept: each time that they are shown they have tokens of their own."""

from __future__ import annotations

import re
from uuid import uuid4

from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.utils.safestring import SafeString, mark_safe

from farmbuild.common.once import FIELD, new_token

_TOKEN = re.compile(rf'(<input type="hidden" name="(csrfmiddlewaretoken|{FIELD}|key)" value=")([^"]*)')


def without_tokens(markup: str) -> SafeString:
    """To be kept: no token in it, of this request or of this form."""
    return mark_safe(_TOKEN.sub(r"\1", markup))


def with_tokens(markup: str, request: HttpRequest) -> SafeString:
    """To be shown: each form with the token of this request, and of a press that is told from all others."""
    csrf = get_token(request)

    def fresh(match: re.Match[str]) -> str:
        name = match[2]
        if name == "csrfmiddlewaretoken":
            return match[1] + csrf
        return match[1] + (new_token() if name == FIELD else str(uuid4()))

    return mark_safe(_TOKEN.sub(fresh, markup))
