"""What one of a material is called in the yard."""

NOUNS = {
    "tube": ("stick", "sticks"),
    "lumber": ("board", "boards"),
    "film": ("roll", "rolls"),
    "channel": ("length", "lengths"),
}
PIECES = ("piece", "pieces")


def noun(kind: str, count: int) -> str:
    """stick, boards, rolls; pieces of what is counted."""
    return NOUNS.get(kind, PIECES)[count != 1]
