"""What was made of a house as it once was, and no longer fits it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from farmbuild.sites.models import House
from farmbuild.sites.signals import asking_what_is_outdated


@dataclass(frozen=True)
class Outdated:
    """``name`` and its page, and ``what_to_do`` there. ``turn`` says which stands first: a plan before its orders."""

    name: str
    url: str
    what_to_do: str
    turn: int


def outdated_of(*, house: House) -> list[Outdated]:
    """Of all rooms above; empty where everything fits the house as it is stored."""
    answers = asking_what_is_outdated.send(House, house=house)
    return sorted((one for _, found in answers for one in found), key=lambda one: (one.turn, one.name))


def outdated_words(rows: list[Outdated]) -> SafeString:
    """Plan 3 (plan again), order 3-1 (not sent: look before sending); each a link."""
    links = (('<a class="line-link" href="{}">{}</a> ({})', row) for row in rows)
    return format_html_join(
        ", ", "{}", ((format_html(form, row.url, row.name, row.what_to_do),) for form, row in links)
    )
