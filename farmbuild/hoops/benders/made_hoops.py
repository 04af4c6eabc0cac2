"""What a bender makes of some sticks, how far that is from a wanted span, and what would make the wanted span."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import partial
from typing import Any

from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.common.speaking import said, said_count
from farmbuild.hoops.benders.bridge import (
    SLEEVES,
    BendRecipe,
    Hoop,
    Standing,
    bent_hoop,
    developed_length,
    kink_warning,
    most_spring_in,
    radius_for_span,
    spring_range,
    springs_back,
    sticks_for_span,
    wanted_spring_in,
)
from farmbuild.hoops.benders.models import Bender

INCH = Decimal("25.4")
#: A free span is right within this much, the usual tolerance of a trial hoop: 2 in.
CLOSE = INCH * 2
#: Insertion assumed for joining sticks where none is given: 4 in (common practice, no source).
USUAL_INSERTION = INCH * 4


@dataclass(frozen=True)
class Sticks:
    """What is bent, mm. ``joinable``: more than one can be joined; ``sleeved``: by a sleeve, which loses no length."""

    sticks: int
    length: Decimal
    insertion: Decimal
    joinable: bool = True
    sleeved: bool = False

    @property
    def to_join(self) -> Decimal:
        if self.sleeved:
            return Decimal(0)
        return self.insertion or min(USUAL_INSERTION, self.length / 2)


@dataclass(frozen=True)
class Choice:
    """So many sticks, the radius on which they stand over the wanted free span, and what the bender makes of them.

    ``off``: what the bender makes less the wanted free span. mm.
    """

    sticks: int
    pipe: Decimal
    radius: Decimal
    rise: Decimal
    leg: Decimal
    makes: Decimal
    off: Decimal


@dataclass(frozen=True)
class MadeHoop:
    """``misses``: the bender does not make the span asked for. ``choices`` is empty when no span is asked for."""

    sentence: str
    hoop: Hoop
    misses: bool = False
    wanted: Decimal | None = None
    choices: list[Choice] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def hoop_of(sticks: Sticks, radius: Decimal) -> Hoop:
    """Bent from end to end, as marks make it that are spaced evenly over the stick."""
    return bent_hoop(float(developed_length(sticks.sticks, sticks.length, sticks.insertion)), float(radius))


def choices_for(sticks: Sticks, radius: Decimal, wanted: Decimal, marked: BendRecipe | None = None) -> list[Choice]:
    """``wanted`` is the free span; ``radius`` what the bender makes, mm. Empty when such sticks do not reach.

    Bent from end to end, or at the marks of ``marked``.
    """
    found = []
    most = 12 if sticks.joinable else 1
    for choice in sticks_for_span(float(wanted), sticks.length, sticks.to_join, most=most):
        hoop: Standing = choice.hoop
        needed, leg = choice.hoop.radius, choice.hoop.leg
        made = bent_hoop(choice.hoop.developed, float(radius)).span
        if marked:
            joined = replace(marked, sticks=choice.sticks, insertion=sticks.to_join, radius=radius)
            needed, made = radius_for_span(joined, float(wanted)), joined.hoop.span
            bent = replace(joined, radius=to_decimal(needed)).hoop
            hoop, leg = bent, bent.leg
        found.append(
            Choice(
                sticks=choice.sticks,
                pipe=to_decimal(choice.hoop.developed),
                radius=to_decimal(needed),
                rise=to_decimal(hoop.rise),
                leg=to_decimal(leg),
                makes=to_decimal(made),
                off=to_decimal(made) - wanted,
            )
        )
    return found


def needed_words(choices: list[Choice], wanted: Decimal, units: str) -> str:
    """Which sticks and radius would make the wanted free span, in a sentence."""
    text = partial(length_text, units=units)
    if not choices:
        return gettext("No number of such sticks reaches a free span of %(wanted)s.") % {"wanted": text(wanted)}
    ways = []
    for row in choices:
        way = gettext("%(sticks)s on a radius of %(radius)s")
        if row.leg > 1:
            way = gettext("%(sticks)s on a radius of %(radius)s with straight legs of %(leg)s")
        told = {"sticks": said_count(row.sticks, "stick"), "radius": text(row.radius), "leg": text(row.leg)}
        ways.append(way % told)
    return gettext("A free span of %(wanted)s takes %(ways)s.") % {
        "wanted": text(wanted),
        "ways": gettext(", or ").join(ways),
    }


def span_words(
    free_span: Decimal, post_span: Decimal, spring_in: Decimal, units: str, limit: Decimal | None = None
) -> tuple[bool, str]:
    """Whether the hoop misses posts that far apart, and how far it is off, in a sentence.

    ``limit``: the most that it springs back from, where that is known.
    """
    text = partial(length_text, units=units)
    over = free_span - post_span
    told = {"off": text(abs(over)), "posts": text(post_span), "spring_in": text(spring_in)}
    if over < 0:
        words = gettext(
            "That is %(off)s narrower than posts %(posts)s apart, and %(less)s less than the free span of %(free_span)s"
            " that they want with %(spring_in)s of spring-in."
        )
        return True, words % (told | {"less": text(spring_in - over), "free_span": text(post_span + spring_in)})
    off, most = over - spring_in, most_spring_in(post_span)
    if limit is not None and over > limit:
        words = gettext(
            "That is %(off)s wider than posts %(posts)s apart, and it springs back from %(limit)s at most: sprung in"
            " further it stays bent."
        )
        return True, words % (told | {"limit": text(limit)})
    if over > most:
        words = gettext(
            "That is %(off)s wider than posts %(posts)s apart; springing in more than %(most)s is not allowed for."
        )
        return True, words % (told | {"most": text(most)})
    if abs(off) <= CLOSE:
        words = gettext("That is %(off)s wider than posts %(posts)s apart, near the %(spring_in)s of spring-in wanted.")
        return False, words % told
    words = (
        gettext(
            "That is %(off)s wider than posts %(posts)s apart, %(by)s more than the %(spring_in)s of spring-in wanted."
        )
        if off > 0
        else gettext(
            "That is %(off)s wider than posts %(posts)s apart, %(by)s less than the %(spring_in)s of spring-in wanted."
        )
    )
    return False, words % (told | {"by": text(abs(off))})


def made_hoop(bender: Bender, data: Mapping[str, Any]) -> MadeHoop:
    """``bender`` comes with its measured radius; ``data`` is what MakesForm read."""
    units = bender.organisation.unit_system
    text = partial(length_text, units=units)
    measured = bender.measured_radius is not None and data.get("radius_from") != "rated"
    radius = bender.measured_radius if measured else bender.rated_radius
    tube: Material | None = data.get("tube")
    sleeved = data["joint"] in SLEEVES
    joinable = sleeved or tube is None or tube.swaged
    sticks = Sticks(data["sticks"], data["stick_length"], data["insertion"], joinable, sleeved)
    hoop = hoop_of(sticks, radius)
    on = gettext("On its measured radius of %(radius)s") if measured else gettext("On its rated radius of %(radius)s")
    words = gettext("%(on)s, %(sticks)s of %(length)s make a hoop %(span)s wide and %(rise)s high, standing free.")
    if sticks.sticks == 1:
        words = gettext("%(on)s, a stick of %(length)s makes a hoop %(span)s wide and %(rise)s high, standing free.")
    words %= {
        "on": on % {"radius": text(radius)},
        "sticks": said_count(sticks.sticks, "stick"),
        "length": text(sticks.length),
        "span": text(hoop.span),
        "rise": text(hoop.rise),
    }
    if hoop.leg > 1:
        words += " " + gettext("Its straight legs are %(leg)s long.") % {"leg": text(hoop.leg)}
    warnings = [warning] if tube and (warning := kink_warning(radius, tube, units)) else []
    if data.get("post_span") is None:
        return MadeHoop(words, hoop, warnings=warnings)
    limit = springs_back(hoop, tube)
    spring_in = wanted_spring_in(limit, units) if data.get("spring_in") is None else data["spring_in"]
    wanted = data["post_span"] + spring_in
    misses, off = span_words(to_decimal(hoop.span), data["post_span"], spring_in, units, limit)
    about = (
        said(spring_range(hoop, tube, data["post_span"], units))
        if tube
        else gettext("Choose a tube to see how far it springs.")
    )
    return MadeHoop(
        " ".join([words, off, about]),
        hoop,
        misses=misses,
        wanted=wanted,
        choices=choices_for(sticks, radius, wanted),
        warnings=warnings,
    )
