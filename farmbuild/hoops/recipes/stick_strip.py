"""One flat stick with its marks numbered on it and their distances under it, for a phone, a desk and a sheet of paper.

Letters keep their size, so each place has a layout of its own, made for the narrowest that it is shown at: a wider one
only parts them further. A distance that has no room is left out there; the list of marks has every one.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from farmbuild.common.lengths import length_text
from farmbuild.common.strips import ROOM, breadth
from farmbuild.hoops.recipes.bridge import BendRecipe
from farmbuild.hoops.recipes.words import left_off_words

ROWS = 4


@dataclass(frozen=True)
class Place:
    """``least``: how wide it is at least, ``letter``: the height of its letters, both in rem."""

    name: str
    least: float
    letter: float


#: The sheet is read at arm's length, by letters of 18 points: on paper a rem is 11. Sizes stand in strips.css too.
PLACES = (Place("phone", 15.5, 0.85), Place("desk", 38, 1), Place("paper", 40, 1.65))


@dataclass(frozen=True)
class Label:
    """Words at ``share`` of the stick; ``reach``: from where to where they go on the narrowest, rem."""

    share: float
    words: str
    anchor: str
    reach: tuple[float, float]
    row: int


def stick_strips(bend: BendRecipe, name: str, units: str, first_end: str, *, swaged: bool) -> SafeString:
    """To scale along its length, the end that goes in first on the left."""
    said = [length_text(mark, units) for mark in bend.marks]
    stick = length_text(bend.stick_length, units)
    words = (
        f"Marks from the {first_end} of a stick of {stick}: {', '.join(said)}. {left_off_words(bend, units)}".strip()
    )
    title = f"{name}: one stick with its marks"
    drawn = [_drawn(bend, said, place, swaged, title, words) for place in PLACES]
    straight = ""
    if bend.sleeve:
        half = length_text(bend.sleeve / 2, units)
        straight = format_html('<p class="small">Thin lines: straight for the sleeve, {} at each joint.</p>', half)
    svgs = format_html_join("", "{}", ((svg,) for svg in drawn))
    return format_html('<div class="strip-place marked">{}</div>{}', svgs, straight)


def _drawn(bend: BendRecipe, said: list[str], place: Place, swaged: bool, title: str, words: str) -> SafeString:
    length, letter = bend.stick_length, place.letter
    shares = [float(mark / length) for mark in bend.marks]
    never = set.intersection(*map(set, bend.unpulled))
    bar = (1.5 * letter, 2.5 * letter)
    labels = labels_of(shares, said, place)
    rows = 1 + max((label.row for label in labels), default=0)
    swage = min(bend.insertion or length * Decimal("0.03"), length / 4) if swaged and not bend.sleeve else Decimal(0)
    rects = [(swage, length - swage, bar[0], letter)]
    if swage:
        rects.append((Decimal(0), swage, bar[0] + 0.15 * letter, 0.7 * letter))
    # Where a sleeve goes the pipe stays straight.
    lines = [("thin", at / length, bar[0], bar[1] + 0.2) for at in _sleeve_ends(bend)]
    lines += [("thin off", at / length, bar[0], bar[1]) for at, _ in bend.left_off]
    lines += [
        ("thin" if number in never else "mark", share, bar[0] - 0.2, bar[1] + 0.25)
        for number, share in enumerate(shares, start=1)
    ]
    lines += [("thin", label.share, bar[1] + 0.25, _line(bar[1], label.row, letter) - letter) for label in labels]
    texts = [("middle", share, bar[0] - 0.35, number) for number, share in numbers_of(shares, place)]
    texts += [(label.anchor, label.share, _line(bar[1], label.row, letter), label.words) for label in labels]
    key = f"stick-{place.name}"
    return format_html(
        '<svg class="strip stick {0}" xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{1}-t"'
        ' aria-describedby="{1}-d" height="{2}rem"><title id="{1}-t">{3}</title>'
        '<desc id="{1}-d">{4}</desc>{5}{6}{7}</svg>',
        place.name,
        key,
        _rem(_line(bar[1], rows - 1, letter) + 0.4),
        title,
        words,
        format_html_join(
            "",
            '<rect class="cut" x="{}%" width="{}%" y="{}rem" height="{}rem"/>',
            ((_percent(x / length), _percent(wide / length), _rem(y), _rem(high)) for x, wide, y, high in rects),
        ),
        format_html_join(
            "",
            '<line class="{0}" x1="{1}%" x2="{1}%" y1="{2}rem" y2="{3}rem"/>',
            ((kind, _percent(share), _rem(top), _rem(end)) for kind, share, top, end in lines),
        ),
        format_html_join(
            "",
            '<text class="{}" x="{}%" y="{}rem">{}</text>',
            ((anchor, _percent(share), _rem(y), text) for anchor, share, y, text in texts),
        ),
    )


def numbers_of(shares: list[float], place: Place) -> list[tuple[int, float]]:
    """Of close marks only those that stand clear of the one before."""
    kept: list[tuple[int, float]] = []
    end = float("-inf")
    for number, share in enumerate(shares, start=1):
        half = breadth(str(number), place.letter) / 2
        if share * place.least - half >= end:
            kept.append((number, share))
            end = share * place.least + half + ROOM
    return kept


def labels_of(shares: list[float], said: list[str], place: Place) -> list[Label]:
    """Each in the first row where neither it nor its line to the mark meets another; else none."""
    labels: list[Label] = []
    for share, words in zip(shares, said, strict=True):
        wide, at = breadth(words, place.letter), share * place.least
        if at < wide / 2:
            anchor, reach = "start", (at, at + wide)
        elif place.least - at < wide / 2:
            anchor, reach = "end", (at - wide, at)
        else:
            anchor, reach = "middle", (at - wide / 2, at + wide / 2)
        reach = (reach[0] - ROOM / 2, reach[1] + ROOM / 2)
        for row in range(ROWS):
            if all(_clear(row, at, reach, other, place) for other in labels):
                labels.append(Label(share, words, anchor, reach, row))
                break
    return labels


def _clear(row: int, at: float, reach: tuple[float, float], other: Label, place: Place) -> bool:
    if row == other.row:
        return reach[0] >= other.reach[1] or reach[1] <= other.reach[0]
    if row > other.row:
        return not other.reach[0] < at < other.reach[1]
    return not reach[0] < other.share * place.least < reach[1]


def _sleeve_ends(bend: BendRecipe) -> list[Decimal]:
    half = Decimal(bend.sleeve) / 2
    return [half, bend.stick_length - half] if half else []


def _line(bar_end: float, row: int, letter: float) -> float:
    """Where the words of a row stand, from the top."""
    return bar_end + 0.45 + letter * (1 + 1.15 * row)


def _percent(share: Decimal | float) -> str:
    return str(round(float(share) * 100, 4))


def _rem(length: float) -> str:
    return str(round(length, 3))
