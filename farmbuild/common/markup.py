"""Markup put together in the program: what ``format_html`` says, to the letter, without its detour for late texts.

A page of a season has a thousand values to escape, and Django asks of each whether it is translated late.
"""

from __future__ import annotations

from html import escape
from typing import Any

from django.utils.functional import Promise
from django.utils.safestring import SafeString, mark_safe


def escaped(value: Any) -> str:
    """As ``conditional_escape``: what says that it is markup stays as it is."""
    kind = type(value)
    if kind is str:
        return escape(value)
    if kind is SafeString:
        return value
    if isinstance(value, Promise):
        value = str(value)
    return value.__html__() if hasattr(value, "__html__") else escape(str(value))


def markup(words: str, *values: Any, **named: Any) -> SafeString:
    """As ``format_html``, of which ``words`` are markup and the values are not, but where they say so."""
    return mark_safe(words.format(*map(escaped, values), **{name: escaped(value) for name, value in named.items()}))
