"""A length in the text of a page keeps to one line: 6' 0 15/16" broken after the feet reads as two lengths."""

from __future__ import annotations

import re

#: As bytes, since pages are; the last line keeps out of tags.
_HOLD = "\u00a0".encode()
_SPACE_IN_LENGTH = re.compile(
    rb" (?:"
    # After feet: 6' 0
    rb"(?<=\d' )(?=\d)|(?<=\d&#x27; )(?=\d)|(?<=\d&#39; )(?=\d)"
    # Before a fraction of an inch: 0 15/16"
    rb"|(?<=\d )(?=\d{1,2}/\d{1,2}(?:\\?\"|&quot;|&#34;))"
    # Before a unit: 1 852 mm
    rb"|(?<=\d )(?=(?:mm|cm|m|mil|\xc2\xb5m|\\u00b5m)\b)"
    rb")(?![^<>]*>)"
)
_SENT_BACK = re.compile(rb"(<(textarea|title|script|style|option)\b.*?</\2>)", re.S | re.I)


def unbroken(html: bytes) -> bytes:
    """The page with no-break spaces inside its lengths; attributes, and boxes of typed text, stay to the letter."""
    parts = _SENT_BACK.split(html)
    # Three a round: text, what is left alone, and the name of its tag.
    for at in range(0, len(parts), 3):
        parts[at] = _SPACE_IN_LENGTH.sub(_HOLD, parts[at])
    return b"".join(part for at, part in enumerate(parts) if at % 3 != 2)
