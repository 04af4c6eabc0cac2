"""Words in lines that fit: letters are not measured here, so each is taken as broad as in a broad usual font."""

from __future__ import annotations

_NARROW, _WIDE = frozenset("ijlI.,:;'’|!tfr ()[]-/"), frozenset("mwMW@%&")
#: Of an em.
_BREADTHS = {"narrow": 0.42, "wide": 1.0, "capital": 0.79, "other": 0.64}
BOLD = 1.12


def breadth(words: str, *, bold: bool = False) -> float:
    """Ems that the words take at most."""
    return sum(_BREADTHS[_kind(letter)] for letter in words) * (BOLD if bold else 1)


def _kind(letter: str) -> str:
    if letter in _NARROW:
        return "narrow"
    if letter in _WIDE or ord(letter) > 0x2FFF:
        return "wide"
    return "capital" if letter.isupper() else "other"


def wrapped(words: str, room: float, *, bold: bool = False) -> list[str]:
    """Lines of at most ``room`` ems, broken at spaces; a longer word is parted, and nothing is cut off."""
    lines: list[str] = []
    for word in words.split():
        if lines and breadth(f"{lines[-1]} {word}", bold=bold) <= room:
            lines[-1] = f"{lines[-1]} {word}"
            continue
        rest = word
        while breadth(rest, bold=bold) > room and len(rest) > 1:
            most = next(n for n in range(len(rest), 0, -1) if n == 1 or breadth(rest[:n], bold=bold) <= room)
            lines.append(rest[:most])
            rest = rest[most:]
        lines.append(rest)
    return lines


def label(step: str, rest: str, room: float) -> list[tuple[str, str]]:
    """(kind, line): the step in bold, and under it house and progress."""
    return [("step", line) for line in wrapped(step, room, bold=True)] + [("", line) for line in wrapped(rest, room)]
