"""What a page says, however its lines are broken."""


def text_of(response) -> str:
    """The page's markup with single spaces."""
    return " ".join(response.content.decode().split())
