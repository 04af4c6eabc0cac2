"""One flat stick with its marks numbered on it and their distances under it, for a phone, a desk and a sheet of paper.

Letters keep their size, so each place has a layout of its own, made for the narrowest that it is shown at: a wider one
only parts them further. A distance that has no room is left out there; the list of marks has every one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.common.strips import ROOM, breadth
from farmbuild.hoops.recipes.bridge import BendRecipe
from farmbuild.hoops.recipes.words import left_off_words

#: Rows of words on either side of the stick, and how high one is, in letters.
ROWS, ROW = 4, 1.15


@dataclass(frozen=True)
class Place:
    """``least``: how wide it is at least, ``letter``: the height of its letters, both in rem.

    ``rows``: of words under the stick at most.
    """

    name: str
    least: float
    letter: float
    rows: int = ROWS


#: The sheet is read at arm's length, by letters of 18 points: on paper a rem is 11. Sizes stand in strips.css too.
PAPER = Place("paper", 40, 1.65)
PLACES = (Place("phone", 15.5, 0.85), Place("desk", 38, 1), PAPER)
#: Of more marks than this a sheet of paper has room for one row of distances; its list has all.
MANY = 9
#: Points of a rem on paper.
POINTS = 11


@dataclass(frozen=True)
class Label:
    """Words of the mark at ``share`` of the stick; ``reach``: from where to where they go on the narrowest, rem."""

    share: float
    words: str
    anchor: str
    reach: tuple[float, float]
    row: int


@dataclass(frozen=True)
class Layout:
    """Across in shares of the stick, down in rem; of a text the line that it stands on."""

    high: float
    #: Left, width, top, height.
    rects: list[tuple[float, float, float, float]]
    #: Kind (mark, thin, "thin off"), place, top, end.
    lines: list[tuple[str, float, float, float]]
    #: Anchor (start, middle, end), place, line, words.
    texts: list[tuple[str, float, float, str]]


def stick_strips(bend: BendRecipe, name: str, units: str, first_end: str, *, swaged: bool) -> SafeString:
    """To scale along its length, the end that goes in first on the left."""
    said = [length_text(mark, units) for mark in bend.marks]
    stick = length_text(bend.stick_length, units)
    words = _marks_words(first_end, stick, said, bend, units)
    title = gettext("%(name)s: one stick with its marks") % {"name": name}
    drawn = [_svg(layout_of(bend, units, place, swaged=swaged), place.name, title, words) for place in PLACES]
    straight = ""
    if bend.sleeve:
        straight = format_html('<p class="small">{}</p>', straight_words(bend, units))
    svgs = format_html_join("", "{}", ((svg,) for svg in drawn))
    return format_html('<div class="strip-place marked">{}</div>{}', svgs, straight)


def _marks_words(end: str, stick: str, marks: list[str], bend: BendRecipe, units: str) -> str:
    words = gettext("Marks from the %(end)s of a stick of %(stick)s: %(marks)s.")
    told = {"end": end, "stick": stick, "marks": ", ".join(marks)}
    return f"{words % told} {left_off_words(bend, units)}".strip()


def straight_words(bend: BendRecipe, units: str) -> str:
    if not bend.sleeve:
        return ""
    words = gettext("Thin lines: straight for the sleeve, %(length)s at each joint.")
    return words % {"length": length_text(bend.sleeve / 2, units)}


def layout_of(bend: BendRecipe, units: str, place: Place, *, swaged: bool) -> Layout:
    if place is PAPER and len(bend.marks) > MANY:
        place = replace(place, rows=1)
    length, letter = bend.stick_length, place.letter
    shares = [float(mark / length) for mark in bend.marks]
    never = set.intersection(*map(set, bend.unpulled))
    numbers = labels_of(shares, [str(number) for number in range(1, len(shares) + 1)], replace(place, rows=ROWS))
    labels = labels_of(shares, [length_text(mark, units) for mark in bend.marks], place)
    top = letter * (1.5 + ROW * max((label.row for label in numbers), default=0))
    end = top + letter
    swage = min(bend.insertion or length * Decimal("0.03"), length / 4) if swaged and not bend.sleeve else Decimal(0)
    swage_share = float(swage / length)
    rects = [(swage_share, 1 - swage_share, top, letter)]
    if swage:
        rects.append((0.0, swage_share, top + 0.15 * letter, 0.7 * letter))
    # Where a sleeve goes the pipe stays straight.
    lines = [("thin", float(at / length), top, end + 0.2) for at in _sleeve_ends(bend)]
    lines += [("thin off", float(at / length), top, end) for at, _ in bend.left_off]
    lines += [
        ("thin" if number in never else "mark", share, top - 0.2, end + 0.25)
        for number, share in enumerate(shares, start=1)
    ]
    lines += [("thin", label.share, _over(top, label.row, letter) + 0.1, top - 0.2) for label in numbers if label.row]
    lines += [("thin", label.share, end + 0.25, _line(end, label.row, letter) - letter) for label in labels]
    texts = [(label.anchor, label.share, _over(top, label.row, letter), label.words) for label in numbers]
    texts += [(label.anchor, label.share, _line(end, label.row, letter), label.words) for label in labels]
    lowest = max((label.row for label in labels), default=0)
    return Layout(_line(end, lowest, letter) + 0.4, rects, lines, texts)


def _svg(layout: Layout, name: str, title: str, words: str) -> SafeString:
    return format_html(
        '<svg class="strip stick {0}" xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{1}-t"'
        ' aria-describedby="{1}-d" height="{2}rem"><title id="{1}-t">{3}</title>'
        '<desc id="{1}-d">{4}</desc>{5}{6}{7}</svg>',
        name,
        f"stick-{name}",
        _rem(layout.high),
        title,
        words,
        format_html_join(
            "",
            '<rect class="cut" x="{}%" width="{}%" y="{}rem" height="{}rem"/>',
            ((_percent(x), _percent(wide), _rem(y), _rem(high)) for x, wide, y, high in layout.rects),
        ),
        format_html_join(
            "",
            '<line class="{0}" x1="{1}%" x2="{1}%" y1="{2}rem" y2="{3}rem"/>',
            ((kind, _percent(share), _rem(top), _rem(end)) for kind, share, top, end in layout.lines),
        ),
        format_html_join(
            "",
            '<text class="{}" x="{}%" y="{}rem">{}</text>',
            ((anchor, _percent(share), _rem(y), text) for anchor, share, y, text in layout.texts),
        ),
    )


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
        for row in range(place.rows):
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
    """Where the words of a row under the stick stand, from the top."""
    return bar_end + 0.45 + letter * (1 + ROW * row)


def _over(bar_top: float, row: int, letter: float) -> float:
    """The same of numbers over it."""
    return bar_top - 0.35 - letter * ROW * row


def _percent(share: float) -> str:
    return str(round(share * 100, 4))


def _rem(length: float) -> str:
    return str(round(length, 3))
