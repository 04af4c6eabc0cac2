"""What a page says, however its lines are broken."""

import re


def text_of(response) -> str:
    """The page's markup with single spaces; those inside numbers stay narrow."""
    return re.sub(r"[^\S\u202f]+", " ", response.content.decode()).strip()
