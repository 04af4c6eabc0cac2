"""How times of work are said."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext

from farmbuild.measure import format_minutes, typed_as


def format_hours(minutes: int) -> str:
    """Whole and part hours as typed: 2.25."""
    return format_number(Decimal(minutes) / 60)


def format_number(number: Decimal) -> str:
    return typed_as(number.quantize(Decimal("0.01")).normalize())


def after_words(name: str, lag: int) -> str:
    return gettext("%(name)s, and %(lag)s more") % {"name": name, "lag": format_minutes(lag)} if lag else str(name)


def with_article(noun: str) -> str:
    """With its article: a post, an anchor."""
    return f"{'an' if noun[:1] in 'aeiou' else 'a'} {noun}"
