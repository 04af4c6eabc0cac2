"""The radius of a bender, worked out from the span that it says or from a hoop that was bent on it, and in words."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from math import degrees, pi

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.common.speaking import said_count
from farmbuild.hoops.benders.bridge import GeometryError, Hoop, developed_length, hoop_over
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import format_decimal
from farmbuild.measure.usual import TRIAL_TOLERANCE

#: What each way needs.
NEEDS = {
    Bender.Way.LABEL: ("rated_span", "label_sticks", "label_stick_length", "label_insertion"),
    Bender.Way.HOOP: ("bent_span", "bent_rise"),
    Bender.Way.RADIUS: ("rated_radius",),
}
_ASKED = {
    "rated_span": gettext_lazy("Type the span that the bender says."),
    "label_sticks": gettext_lazy("Type how many sticks make one hoop."),
    "label_stick_length": gettext_lazy("Type the length of one stick."),
    "label_insertion": gettext_lazy("Type how far one stick slides into the next; 0 where none does."),
    "bent_span": gettext_lazy("Measure between the hoop's ends and type it."),
    "bent_rise": gettext_lazy("Measure from the line through the ends to the crown and type it."),
    "rated_radius": gettext_lazy("Type the radius that its maker states, to the centreline of the pipe."),
}


def work_out(bender: Bender) -> None:
    """Set radius and span of ``bender`` as its way gives them. Raises ValidationError by field."""
    missing = {name: _ASKED[name] for name in NEEDS[bender.way] if getattr(bender, name) is None}
    if missing:
        raise ValidationError(missing)
    if bender.way == Bender.Way.LABEL:
        bender.rated_radius = to_decimal(_label_hoop(bender).radius)
    elif bender.way == Bender.Way.HOOP:
        bender.rated_radius = _arc_radius(bender)
        bender.rated_span = bender.bent_span if bender.rated_span is None else bender.rated_span
    elif bender.rated_span is None:
        bender.rated_span = 2 * bender.rated_radius


def working(bender: Bender) -> list[str]:
    """How the radius came about, in sentences with the numbers; none where it was typed."""
    if bender.way == Bender.Way.LABEL:
        return _label_words(bender)
    return _hoop_words(bender) if bender.way == Bender.Way.HOOP else []


def _pipe(bender: Bender) -> Decimal:
    return developed_length(bender.label_sticks, bender.label_stick_length, bender.label_insertion)


def _label_hoop(bender: Bender) -> Hoop:
    text = partial(length_text, units=bender.organisation.unit_system)
    try:
        return hoop_over(float(_pipe(bender)), float(bender.rated_span))
    except GeometryError as error:
        if error.part == "insertion":
            raise ValidationError({"label_insertion": gettext("Type less than the length of one stick.")}) from error
        sticks = said_count(bender.label_sticks, "stick")
        raise ValidationError(
            {
                "label_sticks": gettext(
                    "%(sticks)s of %(label_stick_length)s come to %(bender)s of pipe, which does not reach "
                    "over %(rated_span)s. Type more sticks, or longer ones."
                )
                % {
                    "sticks": sticks,
                    "label_stick_length": text(bender.label_stick_length),
                    "bender": text(_pipe(bender)),
                    "rated_span": text(bender.rated_span),
                }
            }
        ) from error


def _label_words(bender: Bender) -> list[str]:
    text = partial(length_text, units=bender.organisation.unit_system)
    hoop, span = _label_hoop(bender), bender.rated_span
    pipe = (
        gettext("One stick of %(length)s is %(pipe)s of pipe.")
        if bender.label_sticks == 1
        else gettext("%(sticks)s of %(length)s, less %(insertion)s at each joint, come to %(pipe)s of pipe.")
    ) % {
        "sticks": said_count(bender.label_sticks, "stick"),
        "length": text(bender.label_stick_length),
        "insertion": text(bender.label_insertion),
        "pipe": text(hoop.developed),
    }
    half = gettext("A half circle %(span)s wide takes %(pipe)s of pipe (the span × π ÷ 2).") % {
        "span": text(span),
        "pipe": text(float(span) * pi / 2),
    }
    if hoop.leg > 0:
        bent = gettext(
            "So the hoop is a half circle with straight legs of %(leg)s, and its radius is half of the "
            "span: %(radius)s."
        ) % {"leg": text(hoop.leg), "radius": text(hoop.radius)}
    else:
        angle = format_decimal(degrees(2 * hoop.half_angle), 1)
        bent = gettext(
            "The pipe is no longer than that, so the hoop is an arc of %(angle)s°: pipe ÷ angle gives a "
            "radius of %(radius)s."
        ) % {"angle": angle, "radius": text(hoop.radius)}
    return [
        pipe,
        half,
        bent,
        gettext("The span on a bender is taken for that of the free hoop (common practice, no source)."),
    ]


def _arc_radius(bender: Bender) -> Decimal:
    """Chord and height of an arc give its radius: R = c² / 8h + h / 2."""
    span, rise, units = bender.bent_span, bender.bent_rise, bender.organisation.unit_system
    if rise <= 0 or span <= 0:
        raise ValidationError({name: _ASKED[name] for name in ("bent_span", "bent_rise") if getattr(bender, name) <= 0})
    if rise > span / 2 + TRIAL_TOLERANCE.of(units):
        text = partial(length_text, units=units)
        raise ValidationError(
            {
                "bent_rise": gettext(
                    "A rise of %(rise)s is more than half of the span, %(value)s: part of this hoop is "
                    "straight. Measure span and rise of the bent part alone."
                )
                % {"rise": text(rise), "value": text(span / 2)}
            }
        )
    return to_decimal(float(span) ** 2 / (8 * float(rise)) + float(rise) / 2)


def _hoop_words(bender: Bender) -> list[str]:
    text = partial(length_text, units=bender.organisation.unit_system)
    span, rise = text(bender.bent_span), text(bender.bent_rise)
    return [
        gettext("The hoop stood %(span)s wide and %(rise)s high, free.") % {"span": span, "rise": rise},
        gettext("An arc has the radius span² ÷ (8 × rise) + rise ÷ 2, here %(rated_radius)s.")
        % {"rated_radius": text(bender.rated_radius)},
        gettext("What the pipe sprang back is in it already: it was measured after bending."),
    ]
