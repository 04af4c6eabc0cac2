"""A house in plan, as far as it stands, on a strip that is as wide as the longest house of the yard."""

from __future__ import annotations

from decimal import Decimal
from math import cos, pi, sin

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.common.drawing import Drawing, Number
from farmbuild.sites.models import House
from farmbuild.sites.yard.standing import Share, Standing

#: Units on the sheet for the longest house, and what posts stand out beyond a side.
WIDTH, BEYOND = 360.0, 4.0
#: Between two strokes of the hatching, and bays drawn one by one.
_HATCH, MAX_BAYS = 6.0, 400
_ARROW = 18.0
#: 32 units high about its middle, up where it points to the top.
NORTH_ARROW = mark_safe('<path class="north" d="M0 16V-6M-4 -2 0 -14 4 -2Z"/>')


class Strip(Drawing):
    """Strips share width and scale; a drawing that is sized to its own model would not."""

    def __init__(self, longest: Decimal, span: Number, title: str, description: str) -> None:
        super().__init__(longest, span, title, description, scale=WIDTH / float(longest))

    def svg(self) -> SafeString:
        high = self.height * self.scale
        return format_html(
            '<svg class="house-plan" viewBox="-1 {} {} {}" role="img"><title>{}</title><desc>{}</desc>{}</svg>',
            round(-high - BEYOND, 2), WIDTH + 2, round(high + 2 * BEYOND, 2),
            self.title, self.description, mark_safe("".join(self._parts)),
        )  # fmt: skip

    def number(self, x: float, y: float, number: int) -> None:
        """On a round of paper, so that hoops are broken for it."""
        px, py = self._at(x, y)
        place = (round(px, 2), round(py, 2))
        self._add(format_html('<circle class="gap" cx="{}" cy="{}" r="8"/>', *place))
        self._add(format_html('<text x="{}" y="{}" dy="0.35em">{}</text>', *place, number))

    def north(self, bearing: int) -> None:
        """At the right end, where houses that are shorter than the strip leave room."""
        x, y, lean = WIDTH - 1.5 * _ARROW, -self.height * self.scale / 2, -bearing * pi / 180
        place = (x, round(y, 2), -bearing)
        self._add(format_html('<g transform="translate({} {}) rotate({})">{}</g>', *place, NORTH_ARROW))
        letter = (round(x + sin(lean) * 22, 2), round(y - cos(lean) * 22, 2))
        self._add(format_html('<text x="{}" y="{}" dy="0.35em">N</text>', *letter))


def part_of(share: Share, whole: int) -> int:
    """So many of ``whole``, rounded down: nothing is drawn that is not recorded."""
    return min(whole, whole * share.done // share.of) if share.of else 0


def house_strip(house: House, standing: Standing, *, hoops: int, longest: Decimal, words: str) -> SafeString:
    """``words``: its size and all that is recorded, for whoever cannot see it."""
    strip = Strip(longest, house.post_span, gettext("%(house)s in plan") % {"house": house.name}, words)
    draw_house(strip, house, standing, hoops=hoops)
    return strip.svg()


def draw_house(strip: Drawing, house: House, standing: Standing, *, hoops: int) -> None:
    """As far as it stands: from the front corner on the right as one walks in, its length along x."""
    bays = min(hoops - 1, MAX_BAYS)
    length, span = float(house.length), float(house.post_span)
    at = [length * k / bays for k in range(bays + 1)]
    hoops_set, covered = part_of(standing.hoops, bays + 1), part_of(standing.film, bays)
    tick = strip.mm(BEYOND - 1)

    def draw(css: str, parts: list[str]) -> None:
        if parts:
            strip.path(" ".join(parts), css)

    # A bay is filled when the hoops at both its ends are set.
    draw("bay", [f"M {at[k]} 0 H {at[k + 1]} V {span} H {at[k]} Z" for k in range(hoops_set - 1)])
    draw("film", _hatching(at[covered], span, strip.mm(_HATCH)) if covered else [])
    # Where no hoop is set, the outline has the two at its ends.
    draw("coming", [f"M {x} 0 V {span}" for x in (at[hoops_set:] if hoops_set else at[1:-1])])
    strip.rect(0, 0, length, span, "edge" if hoops_set else "coming")
    draw("set", [f"M {x} 0 V {span}" for x in at[:hoops_set]])
    # Both sides of a hoop in turn, as posts are set.
    sides = [f"M {x} {y} V {y + way * tick}" for x in at for y, way in ((0.0, -1), (span, 1))]
    draw("post", sides[: part_of(standing.posts, len(sides))])


def _hatching(length: float, span: float, step: float) -> list[str]:
    """Strokes at 45 degrees over a field of that size."""
    strokes, along = [], step / 2
    while along < length + span:
        left, right = max(0.0, along - span), min(length, along)
        strokes.append(f"M {round(left)} {round(along - left)} L {round(right)} {round(along - right)}")
        along += step
    return strokes
