"""What a bender makes of some sticks, how far that is from a wanted span, and what would make the wanted span."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import partial
from typing import Any

from farmbuild.catalogue.models import Material
from farmbuild.common.lengths import length_text, to_decimal
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
        return f"No number of such sticks reaches a free span of {text(wanted)}."
    ways = [
        f"{row.sticks} stick{'s' if row.sticks > 1 else ''} on a radius of {text(row.radius)}"
        + (f" with straight legs of {text(row.leg)}" if row.leg > 1 else "")
        for row in choices
    ]
    return f"A free span of {text(wanted)} takes {', or '.join(ways)}."


def span_words(
    free_span: Decimal, post_span: Decimal, spring_in: Decimal, units: str, limit: Decimal | None = None
) -> tuple[bool, str]:
    """Whether the hoop misses posts that far apart, and how far it is off, in a sentence.

    ``limit``: the most that it springs back from, where that is known.
    """
    text = partial(length_text, units=units)
    over = free_span - post_span
    posts = f"posts {text(post_span)} apart"
    if over < 0:
        return True, (
            f"That is {text(-over)} narrower than {posts}, and {text(spring_in - over)} less than the free span of"
            f" {text(post_span + spring_in)} that they want with {text(spring_in)} of spring-in."
        )
    off, most = over - spring_in, most_spring_in(post_span)
    if limit is not None and over > limit:
        return True, (
            f"That is {text(over)} wider than {posts}, and it springs back from {text(limit)} at most: sprung in"
            " further it stays bent."
        )
    if over > most:
        return True, (
            f"That is {text(over)} wider than {posts}; springing in more than {text(most)} is not allowed for."
        )
    if abs(off) <= CLOSE:
        return False, f"That is {text(over)} wider than {posts}, near the {text(spring_in)} of spring-in wanted."
    way = "more" if off > 0 else "less"
    return False, (
        f"That is {text(over)} wider than {posts}, {text(abs(off))} {way} than the {text(spring_in)} of spring-in"
        " wanted."
    )


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
    words = (
        f"On its {'measured' if measured else 'rated'} radius of {text(radius)}, {sticks.sticks}"
        f" stick{'s' if sticks.sticks > 1 else ''} of {text(sticks.length)} make{'s' if sticks.sticks == 1 else ''} a"
        f" hoop {text(hoop.span)} wide and {text(hoop.rise)} high, standing free"
        + (f" with straight legs of {text(hoop.leg)}." if hoop.leg > 1 else ".")
    )
    warnings = [warning] if tube and (warning := kink_warning(radius, tube, units)) else []
    if data.get("post_span") is None:
        return MadeHoop(words, hoop, warnings=warnings)
    limit = springs_back(hoop, tube)
    spring_in = wanted_spring_in(limit, units) if data.get("spring_in") is None else data["spring_in"]
    wanted = data["post_span"] + spring_in
    misses, off = span_words(to_decimal(hoop.span), data["post_span"], spring_in, units, limit)
    about = spring_range(hoop, tube, data["post_span"], units) if tube else "Choose a tube to see how far it springs."
    return MadeHoop(
        " ".join([words, off, about]),
        hoop,
        misses=misses,
        wanted=wanted,
        choices=choices_for(sticks, radius, wanted),
        warnings=warnings,
    )
