"""Random signs of forms, of letters that make no word and no number.

Tests look for short words and figures in whole pages. A token of 64 letters and digits has one of three signs in it
once in some thousand runs, and one in hexadecimal has "220" in it far more often.
"""

from __future__ import annotations

from django.middleware import csrf
from django.utils.crypto import get_random_string

from farmbuild.common import once

SIGNS = "qxzjvkwy"


def of_no_words() -> None:
    # Not a secret of the tests any less: 32 signs of eight.
    csrf.CSRF_ALLOWED_CHARS = SIGNS
    once.token_hex = lambda size: get_random_string(2 * size, SIGNS)
