"""Counts, lists, days and times of work as a sentence says them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from farmbuild.measure.numbers import format_count
from farmbuild.measure.speech import Day, joined, sentence

#: Line ends and other control characters (Unicode: Cc, Zl, Zp), and those that turn the order of letters round.
_ENDS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]+")
_TURNS = re.compile("[\u202a-\u202e\u2066-\u2069]")


def one_line(text: str) -> str:
    """A name as a label, a heading or a calendar can carry it: on one line, in the order in which it is read."""
    return _TURNS.sub("", _ENDS.sub(" ", text))


def noun_for(count: int, noun: str, plural: str = "") -> str:
    """stick, sticks; length of channel, lengths of channel. ``plural``: for a noun that does not just take an s."""
    head, of, rest = noun.partition(" of ")
    return noun if count == 1 else plural or f"{head}s{of}{rest}"


def count_noun(count: int, noun: str, plural: str = "") -> str:
    """1 stick, 1,200 sticks."""
    return joined(" ", (format_count(count), sentence(noun_for(count, noun, plural))))


def join_words(words: Iterable[str], last_by: str = "and") -> str:
    """58 sticks; 58 sticks and 1 roll; 58 sticks, 18 boards and 1 roll. Empty for none."""
    *others, last = [*words] or [""]
    if not others:
        return last
    both = "%(others)s or %(last)s" if last_by == "or" else "%(others)s and %(last)s"
    return sentence(both, others=joined(", ", others), last=last)


def format_day(day: date) -> str:
    """3 May 2027."""
    words = Day(f"{day.day} {day:%B %Y}")
    words.day = day
    return words


def format_minutes(minutes: int) -> str:
    """2 h 15 min."""
    hours, rest = divmod(minutes, 60)
    parts = [f"{format_count(hours)} h" if hours else "", f"{rest} min" if rest else ""]
    return " ".join(part for part in parts if part) or "0 min"
