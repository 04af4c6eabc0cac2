"""The measured radius of a bender from trial hoop to trial hoop, as a line against the rated one."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import LETTER, LETTER_BREADTH, Drawing
from farmbuild.common.lengths import length_text
from farmbuild.common.templatetags.farm import day
from farmbuild.hoops.batches.models import TrialHoop
from farmbuild.hoops.benders.models import Bender

_WIDE, _HIGH = 280.0, 110.0
#: What the height of the drawing stands for at least, as a share of the rated radius: noise is not blown up.
_MIN_RANGE = 0.02


def radius_line(bender: Bender, trials: Sequence[TrialHoop], units: str) -> SafeString:
    """``trials``: the oldest first, at least one."""
    radii = [float(row.effective_radius) for row in trials]
    rated = float(bender.rated_radius)
    low, high = min(*radii, rated), max(*radii, rated)
    middle, room = (low + high) / 2, max(high - low, _MIN_RANGE * rated)
    low = middle - room / 2
    words = ", ".join(
        gettext("%(effective_radius)s on %(at)s")
        % {"effective_radius": length_text(row.effective_radius, units), "at": day(row.at)}
        for row in trials
    )
    drawing = Drawing(
        _WIDE,
        _HIGH,
        gettext("%(bender)s: measured radius") % {"bender": bender.name},
        gettext("Rated %(rated_radius)s. Measured, oldest first: %(words)s.")
        % {"rated_radius": length_text(bender.rated_radius, units), "words": words},
    )
    step = _WIDE / len(trials)
    places = [((at + 0.5) * step, (radius - low) / room * _HIGH) for at, radius in enumerate(radii)]
    at_rated = (rated - low) / room * _HIGH
    drawing.line(0, at_rated, _WIDE, at_rated, "thin")
    if len(places) > 1:
        drawing.polyline(places)
    texts = [length_text(row.effective_radius, units) for row in trials]
    # As many figures as stand clear of each other; the newest always has its own.
    every = max(1, -(-int(max(len(text) for text in texts) * LETTER_BREADTH + 8) // int(step)))
    for at, ((x, y), text) in enumerate(zip(places, texts, strict=True)):
        drawing.circle(x, y, 3.5, "fill")
        if (len(places) - 1 - at) % every == 0:
            # Away from the rated line, so that neither strikes through the other.
            drawing.text(x, y + 8 if y >= at_rated else y - LETTER - 5, text)
    # Beside the line, where no point can stand.
    drawing.text(_WIDE + 4, at_rated - LETTER / 3, "rated", "small", anchor="start")
    floor = min(0.0, *(y for _, y in places)) - 2.6 * LETTER
    drawing.text(places[0][0], floor, _short(trials[0]), "small")
    if len(places) > 1:
        drawing.text(places[-1][0], floor, _short(trials[-1]), "small")
    return drawing.svg()


def _short(row: TrialHoop) -> str:
    at = timezone.localtime(row.at)
    return f"{at.day} {at:%b %Y}"
