"""These floors write English alone, for what is kept and cached is one for all readers; pages say it in a language."""


def gettext_noop(text: str) -> str:
    """Marks a text that a page puts into the language of its reader."""
    return text
