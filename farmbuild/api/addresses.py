"""Addresses that programs ask. No sign-in of a browser counts there, so no page of it can be made to send anything."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth.decorators import login_not_required
from django.urls import URLPattern, URLResolver, include, path, re_path
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_safe

from farmbuild.api.description import api, description, no_such_address


def _for_tokens(patterns: Iterable[URLPattern | URLResolver]) -> None:
    for pattern in patterns:
        pattern.callback.login_required = False


_answers, _name, _namespace = api.urls
_answers = [pattern for pattern in _answers if pattern.name != "api-root"]
_for_tokens(_answers)
urlpatterns = [
    path("openapi.json", login_not_required(require_safe(description)), name="api-description"),
    path("1/", include((_answers, _name), namespace=_namespace)),
    re_path("^.*$", csrf_exempt(login_not_required(no_such_address)), name="api-nowhere"),
]
