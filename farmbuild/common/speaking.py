"""Days and lists in the language of a page; what is kept or cached is said by ``measure``, in English."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from contextlib import AbstractContextManager
from datetime import date

from django.conf import settings
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext, pgettext

from farmbuild.measure import format_count, noun_for
from farmbuild.measure.speech import Day, Sentence, gettext_noop

#: What pages count, one and many; others are marked where they are named.
NOUNS = (
    gettext_noop("board"), gettext_noop("boards"), gettext_noop("roll"), gettext_noop("rolls"),
    gettext_noop("piece"), gettext_noop("pieces"), gettext_noop("fresh stick"), gettext_noop("fresh sticks"),
    gettext_noop("length of channel"), gettext_noop("lengths of channel"),
    gettext_noop("offcut"), gettext_noop("offcuts"), gettext_noop("day"), gettext_noop("days"),
    gettext_noop("photo"), gettext_noop("photos"), gettext_noop("hour"), gettext_noop("hours"),
    gettext_noop("minute"), gettext_noop("minutes"), gettext_noop("code"), gettext_noop("codes"),
    gettext_noop("lot"), gettext_noop("lots"), gettext_noop("screw"), gettext_noop("screws"),
    gettext_noop("houses"), gettext_noop("trip"), gettext_noop("trips"), gettext_noop("tasks"), gettext_noop("orders"),
    gettext_noop("more house"), gettext_noop("more houses"), gettext_noop("more thing"), gettext_noop("more things"),
)  # fmt: skip


def said_day(day: date) -> str:
    """3 May 2027."""
    return date_format(day, pgettext("format of a day", "j F Y"))


def said_weekday(day: date) -> str:
    """Monday 3 May 2027."""
    return date_format(day, pgettext("format of a day", "l j F Y"))


def said_day_of_year(day: date) -> str:
    """Monday 3 May."""
    return date_format(day, pgettext("format of a day", "l j F"))


def said_day_of_this_year(day: date) -> str:
    """3 May."""
    return date_format(day, pgettext("format of a day", "j F"))


def said_short_day(day: date) -> str:
    """Mon 3 May."""
    return date_format(day, pgettext("format of a day", "D j M"))


def said_list(words: Iterable[str]) -> str:
    """58 sticks, 18 boards and 1 roll. Empty for none."""
    *others, last = [*words] or [""]
    if not others:
        return last
    return gettext("%(others)s and %(last)s") % {"others": ", ".join(others), "last": last}


def said_either(words: Iterable[str]) -> str:
    """Ida, Sam or Odile. Empty for none."""
    *others, last = [*words] or [""]
    if not others:
        return last
    return gettext("%(others)s or %(last)s") % {"others": ", ".join(others), "last": last}


def said_noun(count: int, noun: str) -> str:
    """stick, sticks. ``noun`` is one of those that are marked below."""
    return gettext(noun_for(count, noun))


def said_count(count: int, noun: str) -> str:
    """1 stick, 1,200 sticks."""
    return f"{format_count(count)} {said_noun(count, noun)}"


def in_order(word: str) -> str:
    """By which words are sorted: accents do not count."""
    return "".join(sign for sign in unicodedata.normalize("NFD", word.casefold()) if not unicodedata.combining(sign))


def kept_words(text: object) -> str:
    """As it is kept, whoever's page it is."""
    with as_kept():
        return str(text)


def as_kept() -> AbstractContextManager[None]:
    """Inside it everything is said as it is kept: for files that others read than who asked for them."""
    return translation.override(settings.LANGUAGE_CODE)


def said(text: str) -> str:
    """What ``measure.speech`` marked, in the language of the page; other texts stay as they are."""
    if not text:
        return text
    if isinstance(text, Day):
        return said_day(text.day)
    if isinstance(text, Sentence):
        spoken = Sentence | Day
        values = {name: said(value) if isinstance(value, spoken) else value for name, value in text.values.items()}
        return gettext(text.text) % values if values else gettext(text.text)
    return gettext(text)
