"""Sketches of what no house and no record shows: a stop gap, a joint, a socket, a pile, days. Figures are invented.

Sizes are common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from math import atan2, cos, pi, sin

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from farmbuild.common.drawing import Drawing
from farmbuild.common.lengths import length_pair_text
from farmbuild.measure import Usual
from farmbuild.measure.usual import INSERTION, STOP_GAP

_INCH = Decimal("25.4")
_CHORD = Usual(72 * _INCH, Decimal(1800))
_ARC_RISE = Usual(12 * _INCH, Decimal(300))
_SOCKET = Usual(6 * _INCH, Decimal(150))
_IN_GROUND = Usual(24 * _INCH, Decimal(600))


def radius(units: str) -> SafeString:
    """A piece bent once along its length, laid flat: what to measure."""
    chord, rise = _CHORD.of(units), _ARC_RISE.of(units)
    wide, high = float(chord), float(rise)
    # Half the chord squared over twice the rise, and half the rise (plane geometry).
    turned = (wide / 2) ** 2 / (2 * high) + high / 2
    half = atan2(wide / 2, turned - high) * 180 / pi
    said = {
        name: length_pair_text(length, units) for name, length in (("chord", chord), ("rise", rise), ("radius", turned))
    }
    drawing = Drawing(
        wide,
        high,
        _("A bent piece laid flat"),
        _("The ends are %(chord)s apart and the middle rises %(rise)s: the radius is %(radius)s.") % said,
    )
    drawing.arc(wide / 2, high - turned, turned, 90 - half, 90 + half)
    drawing.line(0, 0, wide, 0, "thin")
    drawing.line(wide / 2, 0, wide / 2, high, "thin")
    drawing.dimension(0, 0, wide, 0, _("end to end %(chord)s") % said, -drawing.step)
    high_words = _("rise %(length)s") % {"length": said["rise"]}
    drawing.text(wide / 2 + drawing.mm(8), drawing.mm(5), high_words, anchor="start")
    drawing.text(wide / 2, high + drawing.mm(10), _("radius %(length)s") % {"length": said["radius"]})
    return drawing.svg()


def stop_gap(units: str) -> SafeString:
    """The end of a pull. The gap is drawn larger than it is."""
    gap = STOP_GAP.of(units)
    said = {"length": length_pair_text(gap, units)}
    short = _("The pipe stops %(length)s short of the bender. Not to scale.") % said
    drawing = Drawing(280, 120, _("The end of a pull"), short)
    centre, out = (120.0, -300.0), 330.0

    def at(degrees: float, away: float = 0.0) -> tuple[float, float]:
        turn = degrees * pi / 180
        return centre[0] + (out + away) * cos(turn), centre[1] + (out + away) * sin(turn)

    former = [at(108.0 - step) for step in range(43)]
    drawing.polyline([*former, (at(66)[0], -50), (at(108)[0], -50)], "fill", closed=True)
    drawing.text(centre[0], -20, _("bender, fixed"))
    # Held at the mark, along the bender, then straight on to where the pull ends.
    held = [at(108.0 - step, 5) for step in range(30)]
    (x, y), slope = held[-1], (79 - 90) * pi / 180
    drawing.polyline([*held, (x + 130 * cos(slope), y + 130 * sin(slope))])
    drawing.line(*at(108, -8), *at(108, 18), "mark")
    drawing.text(*at(108, 24), _("mark"))
    low, high = at(66), at(66, 19)
    drawing.line(*low, *high, "mark")
    drawing.line(*high, high[0] + 4, high[1] + 26, "thin")
    drawing.text(high[0] + 4, high[1] + 30, _("stop gap %(length)s") % said)
    return drawing.svg()


def joint(units: str) -> SafeString:
    """A swaged end in the next stick, seen from the side of the house."""
    slides = INSERTION.of(units)
    deep = float(slides)
    said = {"length": length_pair_text(slides, units)}
    drawing = Drawing(
        4 * deep,
        0.5 * deep,
        _("A joint at a swage, seen from the side"),
        _(
            "The swaged end slides %(length)s into the next stick. One screw stands in the side; the film runs over"
            " the top."
        )
        % said,
    )
    high, middle = 0.35 * deep, 2 * deep
    drawing.rect(0, 0, middle, high, "fill")
    drawing.rect(middle, 0, 2 * deep, high)
    drawing.rect(middle - deep, 0.14 * high, deep, 0.72 * high, "thin")
    drawing.circle(middle - deep / 2, high / 2, drawing.mm(5), "mark")
    drawing.line(-drawing.mm(4), high + drawing.mm(7), 4 * deep + drawing.mm(4), high + drawing.mm(7), "thin")
    drawing.text(4 * deep, high + drawing.mm(12), _("film"), anchor="end")
    drawing.text(0, high + drawing.mm(12), _("screw in the side"), anchor="start")
    drawing.dimension(middle - deep, 0, middle, 0, _("insertion %(length)s") % said, -drawing.step)
    return drawing.svg()


def socket(units: str) -> SafeString:
    """One ground post with the end of its hoop in it. The pipes are drawn wider than they are."""
    into, below = _SOCKET.of(units), _IN_GROUND.of(units)
    deep, ground = float(into), float(below)
    said = {"ground": length_pair_text(below, units), "socket": length_pair_text(into, units)}
    above = 2 * deep
    drawing = Drawing(
        9 * deep,
        above + 2 * deep,
        _("A hoop in its ground post"),
        _("The post stands %(ground)s in the ground. The hoop stands %(socket)s in the post.") % said,
    )
    middle, wide = 2.5 * deep, 0.5 * deep
    drawing.line(0, 0, 9 * deep, 0)
    drawing.rect(middle - wide / 2, -ground, wide, ground + above, "fill")
    drawing.rect(middle - wide / 3, above - deep, wide * 2 / 3, 3 * deep)
    drawing.line(middle - wide / 2, above - deep, middle + wide / 2, above - deep, "mark")
    drawing.text(middle + wide, above + 1.6 * deep, _("hoop"), anchor="start")
    drawing.text(middle + wide, drawing.mm(8), _("ground"), anchor="start")
    right = middle + wide / 2
    drawing.dimension(right, above, right, above - deep, _("socket depth %(socket)s") % said, drawing.step)
    drawing.dimension(right, 0, right, -ground, _("in the ground %(ground)s") % said, drawing.step)
    return drawing.svg()


def order_by(units: str) -> SafeString:
    """From the day on which an order goes out to the day on which the house stands."""
    drawing = Drawing(
        280,
        40,
        _("When an order has to go out"),
        _("An order needs its lead time before the need date. The work of the house follows, until it stands."),
    )
    drawing.line(0, 0, 280, 0, "thin")
    ticks = ((0, _("order by"), "start"), (150, _("need date"), "middle"), (280, _("to stand by"), "end"))
    for x, words, anchor in ticks:
        drawing.line(x, -8, x, 12, "mark")
        drawing.text(x, 18, words, anchor=anchor)
    drawing.line(158, 0, 272, 0)
    drawing.dimension(0, 0, 150, 0, _("lead time 14 days"), -22)
    drawing.text(215, -18, _("post, set, cover"), "small")
    return drawing.svg()


def pile(units: str) -> SafeString:
    """A lot seen from the ends of its sticks."""
    drawing = Drawing(
        280,
        70,
        _("A lot and what is held of it"),
        _("20 sticks: 8 are held for a house, 12 are free. 5 more are on order."),
    )
    for at in range(25):
        row, column = divmod(at, 10)
        x, y = 12 + 26 * column + (8 if column > 4 else 0), 60 - 26 * row
        drawing.circle(x, y, 10, "fill" if at < 8 else "ink" if at < 20 else "dash")
        if at < 8:
            drawing.line(x - 6, y, x + 6, y, "mark")
    drawing.text(0, 78, _("held: 8"), anchor="start")
    drawing.text(280, 78, _("free: 12"), anchor="end")
    drawing.text(0, -20, _("dashed: 5 on order, in no lot yet"), anchor="start")
    return drawing.svg()


def day(units: str) -> SafeString:
    """A day of two crews by the clock: a stroke for each piece, heavy once it is done."""
    drawing = Drawing(
        280,
        90,
        _("One day of two crews"),
        _("From 8 to 16: one crew bends hoops, 6 of 10 done; another sets 8 ground posts."),
    )
    for hour in range(8, 17, 2):
        x = 35 * (hour - 8)
        drawing.line(x, 0, x, 6, "tick")
        drawing.text(x, -16, str(hour))
    drawing.line(0, 0, 280, 0, "thin")
    crews = ((62, _("crew 1 bends hoops"), 0, 10, 6), (18, _("crew 2 sets ground posts"), 52, 8, 0))
    for base, words, first, pieces, done in crews:
        drawing.text(first, base + 20, words, "small", anchor="start")
        for piece in range(pieces):
            x = first + 4 + 17 * piece
            drawing.line(x, base, x, base + 13, "mark" if piece < done else "thin")
    return drawing.svg()


def sharing(units: str) -> SafeString:
    """Three weeks of two benders and the farms that have them."""
    drawing = Drawing(
        280,
        90,
        _("Three weeks of two benders"),
        _("The wide bender is used at home for a week, then lent for nine days. The narrow one is lent in week 2."),
    )
    for week in range(4):
        drawing.line(week * 280 / 3, -4, week * 280 / 3, 84, "thin")
    for week in range(3):
        drawing.text((week + 0.5) * 280 / 3, -18, _("week %(number)s") % {"number": week + 1}, "small")
    bars = ((46, _("wide bender"), ((0, 80, _("own work"), "ink"), (93, 120, _("member A"), "fill"))),)
    bars += ((2, _("narrow bender"), ((107, 80, _("member B"), "fill"),)),)
    for base, name, spans in bars:
        drawing.text(0, base + 26, name, "small", anchor="start")
        for start, wide, words, css in spans:
            drawing.rect(start, base, wide, 20, css)
            drawing.text(start + wide / 2, base + 5.5, words, "small")
    return drawing.svg()


def options(units: str) -> SafeString:
    """Two prices side by side, each of materials, work and equipment; invented."""
    drawing = Drawing(
        280,
        90,
        _("Two options side by side"),
        _("Each price is a bar of materials, work and equipment. The longer house costs more of all three."),
    )
    for base, name, parts in ((46, _("as asked for"), (90, 95, 20)), (2, _("longer"), (115, 130, 25))):
        drawing.text(0, base + 26, name, "small", anchor="start")
        start = 0
        for wide, words, css in zip(parts, (_("materials"), _("work"), ""), ("fill", "ink", "fill"), strict=True):
            drawing.rect(start, base, wide, 20, css)
            drawing.text(start + wide / 2, base + 5.5, words, "small")
            start += wide
    return drawing.svg()


def together(units: str) -> SafeString:
    """What three members need and the one order of it, which reaches the next price; invented."""
    drawing = Drawing(
        280,
        118,
        _("Three members, one order"),
        _("Members A, B and C need 28, 17 and 9 sticks. Together they order 54; from 50 on a stick costs less."),
    )
    start = 0.0
    for base, name, pieces in ((92, "A", 28), (70, "B", 17), (48, "C", 9)):
        wide = pieces * 4.6
        drawing.rect(start, base, wide, 16, "fill")
        # Beside its bar, clear of the line at 50; the first has room inside.
        x, anchor = (start - 6, "end") if start else (wide / 2, "middle")
        drawing.text(x, base + 4, f"{name} {pieces}", "small", anchor=anchor)
        start += wide
    drawing.rect(0, 12, start, 20, "cut fill")
    drawing.text(start / 2, 17.5, _("one order: 54"), "small")
    drawing.line(230, 6, 230, 112, "limit")
    drawing.text(230, -8, _("50: the next price"), "small")
    return drawing.svg()
