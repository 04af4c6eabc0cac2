"""Days and lists in the language of a page; what is kept or cached is said by ``measure``, in English."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext, pgettext


def said_day(day: date) -> str:
    """3 May 2027."""
    return date_format(day, pgettext("format of a day", "j F Y"))


def said_weekday(day: date) -> str:
    """Monday 3 May 2027."""
    return date_format(day, pgettext("format of a day", "l j F Y"))


def said_day_of_year(day: date) -> str:
    """Monday 3 May."""
    return date_format(day, pgettext("format of a day", "l j F"))


def said_list(words: Iterable[str]) -> str:
    """58 sticks, 18 boards and 1 roll. Empty for none."""
    *others, last = [*words] or [""]
    if not others:
        return last
    return gettext("%(others)s and %(last)s") % {"others": ", ".join(others), "last": last}
