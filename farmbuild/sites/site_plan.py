"""A site with its houses in plan, to one scale; each house is the link to its page."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.urls import reverse
from django.utils.safestring import SafeString

from farmbuild.common.drawing import Drawing
from farmbuild.common.lengths import length_text
from farmbuild.common.templatetags.farm import day
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import hoop_count
from farmbuild.sites.models import House, Site

#: More houses than this are not drawn on one sheet.
MAX_DRAWN = 60
#: Houses are drawn at least so far apart, in whole steps: where they stand is not surveyed.
_STEP = {"imperial": Decimal("304.8"), "metric": Decimal(500)}
_MIN_STEPS = {"imperial": 8, "metric": 5}
_LABEL = 30.0


def drawn_gap(drawing: Drawing, units: str) -> Decimal:
    """Distance between two houses on the sheet, mm: room for a line of words, in whole steps."""
    steps = -(-Decimal(repr(drawing.mm(_LABEL))) // _STEP[units])
    return _STEP[units] * max(steps, Decimal(_MIN_STEPS[units]))


def site_plan(site: Site, houses: Sequence[House], *, organisation: Organisation) -> tuple[SafeString, str] | None:
    """(drawing, the gap in words); None for a site without houses. Houses lie lengthwise, one under the other."""
    if not houses:
        return None
    units = organisation.unit_system
    longest = max(house.length for house in houses)
    words = "; ".join(
        f"{house.name}, {length_text(house.post_span, units)} by {length_text(house.length, units)}" for house in houses
    )
    drawing = Drawing(longest, 0, f"{site.name}: houses in plan", words)
    gap = drawn_gap(drawing, units)
    top = Decimal(0)
    for house in houses:
        size = f"{length_text(house.post_span, units)} × {length_text(house.length, units)}"
        label = f"{house.name}, {size}, needed {day(house.need_date)}"
        with drawing.link(reverse("sites:house", args=[house.slug]), label):
            drawing.text(0, top + Decimal(repr(drawing.mm(7))), f"{house.name}, {size}", anchor="start")
            drawing.rect(0, top - house.post_span, house.length, house.post_span, "fill")
            bays = min(hoop_count(house) - 1, 120)
            for bay in range(1, bays):
                x = house.length * bay / bays
                drawing.line(x, top, x, top - house.post_span, "thin")
        top -= house.post_span + gap
    return drawing.svg(), length_text(gap, units)
