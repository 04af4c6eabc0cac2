"""Days and lists in the language of a page; what is kept or cached is said by ``measure``, in English."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.conf import settings
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext, pgettext

from farmbuild.measure.speech import Sentence


def said_day(day: date) -> str:
    """3 May 2027."""
    return date_format(day, pgettext("format of a day", "j F Y"))


def said_weekday(day: date) -> str:
    """Monday 3 May 2027."""
    return date_format(day, pgettext("format of a day", "l j F Y"))


def said_day_of_year(day: date) -> str:
    """Monday 3 May."""
    return date_format(day, pgettext("format of a day", "l j F"))


def said_short_day(day: date) -> str:
    """Mon 3 May."""
    return date_format(day, pgettext("format of a day", "D j M"))


def said_list(words: Iterable[str]) -> str:
    """58 sticks, 18 boards and 1 roll. Empty for none."""
    *others, last = [*words] or [""]
    if not others:
        return last
    return gettext("%(others)s and %(last)s") % {"others": ", ".join(others), "last": last}


def kept_words(text: object) -> str:
    """As it is kept, whoever's page it is."""
    with translation.override(settings.LANGUAGE_CODE):
        return str(text)


def said(text: str) -> str:
    """What ``measure.speech`` marked, in the language of the page; other texts stay as they are."""
    if not text:
        return text
    if isinstance(text, Sentence):
        values = {name: said(value) if isinstance(value, Sentence) else value for name, value in text.values.items()}
        return gettext(text.text) % values if values else gettext(text.text)
    return gettext(text)
