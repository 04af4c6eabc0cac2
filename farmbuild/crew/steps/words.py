"""How times of work are said."""

from __future__ import annotations

from decimal import Decimal


def span(minutes: int) -> str:
    """2 h 15 min."""
    hours, rest = divmod(minutes, 60)
    parts = [f"{hours:,} h" if hours else "", f"{rest} min" if rest else ""]
    return " ".join(part for part in parts if part) or "0 min"


def hours(minutes: int) -> str:
    """Whole and part hours as typed: 2.25."""
    return plain(Decimal(minutes) / 60)


def plain(number: Decimal) -> str:
    return f"{number.quantize(Decimal('0.01')).normalize():f}"


def after_words(name: str, lag: int) -> str:
    return f"{name}, and {span(lag)} more" if lag else name


def one(noun: str) -> str:
    """With its article: a post, an anchor."""
    return f"{'an' if noun[:1] in 'aeiou' else 'a'} {noun}"
