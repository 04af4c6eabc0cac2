"""What a page says, however its lines are broken."""

import re


def text_of(response) -> str:
    """The page's markup with single spaces; those inside numbers stay narrow. Links of terms are not marked."""
    html = re.sub(r'<a class="term" href="[^"]*">(.*?)</a>', r"\1", response.content.decode(), flags=re.S)
    return re.sub(r"[^\S\u202f]+", " ", html).strip()
