"""A job typed through pages, as a person does: each form is opened, filled in and sent."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from django.db.models import Model
from django.urls import reverse

from tests.reading import text_of

#: Opened once, since they stand there as they did before.
_AGAIN = {"quotes:line-new", "quotes:change", "costs:time-new", "costs:equipment-new", "catalogue:material-new"}


class Typing:
    """``client`` is signed in."""

    def __init__(self, client: Any) -> None:
        self.client = client
        self._opened: dict[str, dict[str, Any]] = {}

    def form(self, page: str, /, *args: Any, query: str = "", **typed: Any) -> Any:
        """Open the page of this name, fill in its form over what stands there, and send it; leads on or fails."""
        answer = self.send(page, *args, query=query, **typed)
        if answer.status_code != 302:
            raise AssertionError(f"{page} {args}: {_problems(answer)}")
        return answer

    def send(self, page: str, /, *args: Any, query: str = "", **typed: Any) -> Any:
        address = reverse(page, args=args) + query
        data = self._opened.get(address)
        if data is None or page not in _AGAIN:
            form = self.client.get(address).context["form"]
            data = self._opened[address] = {field.html_name: _typed(field.value()) for field in form}
        return self.client.post(address, {key: value for key, value in (data | typed).items() if value is not None})

    def press(self, page: str, /, *args: Any, **typed: Any) -> Any:
        answer = self.client.post(reverse(page, args=args), typed, follow=True)
        assert answer.status_code == 200, (page, args)
        return answer

    def page(self, page: str, /, *args: Any, query: str = "") -> str:
        answer = self.client.get(reverse(page, args=args) + query)
        assert answer.status_code == 200, (page, args)
        return text_of(answer)


def _problems(answer: Any) -> str:
    said = getattr(answer.context and answer.context.get("form"), "errors", "")
    return str(said) or re.sub(r"<[^>]*>", " ", text_of(answer))


def _typed(value: Any) -> Any:
    """As a browser sends it; a box that is not ticked is not sent."""
    if value is False:
        return None
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    return value.pk if isinstance(value, Model) else value
