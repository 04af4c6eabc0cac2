"""What a page says, however its lines are broken."""

import re

NO_BREAK = "\u00a0"


def text_of(response) -> str:
    """The page's markup with single spaces; those inside numbers stay narrow. Links of terms are not marked."""
    html = re.sub(r'<a class="term" href="[^"]*">(.*?)</a>', r"\1", response.content.decode(), flags=re.S)
    return re.sub(r"[^\S\u202f]+", " ", html).strip()


def with_spaces(response) -> str:
    """The page, or what a script is answered, with plain spaces where a length keeps to one line."""
    return response.content.decode().replace(NO_BREAK, " ")
